"""The JSON documents of our own contract that arrive: node status, requests, the simulated pool's tick. Strict, never raising."""

from collections.abc import Mapping
from datetime import UTC
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from dosectl.bus import drops
from dosectl.bus.items import DropItem, NodeItem, NodeOutput, RefusedItem, RequestItem, TickItem
from dosectl.model.feeds import FeederId
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Fact, ReasonKind
from dosectl.model.requests import Place, Reply, Request, RequestId
from dosectl.model.signals import Drop, NodeId, NodeReport, SignalId

DOCUMENT_BYTES_MAX = 16384
# A counter of 48 bits lasts 8,900 years of milliseconds; more is no counter.
_COUNTER_MAX = 2**48

FORM = ReasonKind(
    Code("ask.form"),
    "The request was not understood: {where}: {found}. Nothing was changed. Send id, kind, arguments, by and expires_utc.",
)
TOO_LONG = ReasonKind(Code("ask.too_long"), "The request has {found} bytes; at most {limit} are read. Nothing was changed.")
KINDS: tuple[ReasonKind, ...] = (FORM, TOO_LONG)

_Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,62}$")]
_Text = Annotated[str, Field(max_length=1000)]


class _Strict(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class _Output(_Strict):
    on: bool
    no: int = Field(ge=0, le=_COUNTER_MAX)


class _Status(_Strict):
    # What a node's program adds of its own is its business: its status must not be lost for it.
    model_config = ConfigDict(strict=True, extra="ignore", frozen=True, allow_inf_nan=False)
    boot: str = Field(min_length=1, max_length=64)
    ms: int = Field(ge=0, le=_COUNTER_MAX)
    owner: str = Field(default="", max_length=64)
    simulated: bool = False
    feeders: dict[str, _Output] = Field(max_length=32)


class _Ask(_Strict):
    id: str = Field(pattern=r"^[A-Za-z0-9_.:-]{1,64}$")
    kind: str = Field(pattern=r"^[a-z][a-z0-9_.]{0,62}$")
    arguments: dict[_Name, bool | int | float | _Text] = Field(default_factory=dict, max_length=32)
    by: str = Field(default="", max_length=80)
    expires_utc: AwareDatetime


class _AskId(BaseModel):
    """As much of a broken request as is needed to answer it."""

    model_config = ConfigDict(strict=True, extra="ignore")
    id: str = Field(pattern=r"^[A-Za-z0-9_.:-]{1,64}$")


class _Tick(_Strict):
    n: int = Field(ge=0, le=_COUNTER_MAX)
    mono_s: float = Field(ge=0)
    utc: AwareDatetime


def node_status(node: NodeId, topic: str, payload: bytes, at: Instant, retained: bool) -> NodeItem | DropItem:
    """A node's status; a retained one says nothing of now and is dropped."""
    signal = SignalId(f"node:{node}")
    if retained:
        return DropItem(Drop(signal, drops.RETAINED.code, at, drops.shown(payload)), topic)
    if len(payload) > DOCUMENT_BYTES_MAX:
        return DropItem(Drop(signal, drops.TOO_LONG.code, at, drops.shown(payload)), topic)
    try:
        body = _Status.model_validate_json(payload)
    except (ValidationError, ValueError):
        return DropItem(Drop(signal, drops.STATUS.code, at, drops.shown(payload)), topic)
    outputs = tuple(NodeOutput(FeederId(name), output.on, output.no) for name, output in body.feeders.items())
    numbers = tuple((name, output.no) for name, output in body.feeders.items())
    return NodeItem(NodeReport(node, body.boot, body.ms, body.owner, body.simulated, at, numbers), outputs)


def tick(topic: str, payload: bytes, at: Instant, retained: bool) -> TickItem | DropItem:
    """A tick of the simulated pool's clock."""
    try:
        body = _Tick.model_validate_json(payload[:DOCUMENT_BYTES_MAX])
    except (ValidationError, ValueError):
        return DropItem(Drop(SignalId("sim"), drops.TICK.code, at, drops.shown(payload)), topic)
    if retained:
        return DropItem(Drop(SignalId("sim"), drops.RETAINED.code, at, drops.shown(payload)), topic)
    return TickItem(body.n, body.mono_s, body.utc.astimezone(UTC))


def ask(
    account: str, place: Place, topic: str, payload: bytes, at: Instant, retained: bool
) -> RequestItem | RefusedItem | DropItem:
    """A request, or the refusal of its form. A retained one would be asked again at each start and is dropped.

    The account and the place come from the topic. Whom the payload names is kept behind the account: as claimed.
    """
    if retained:
        return DropItem(Drop(SignalId(f"ask:{account}"), drops.RETAINED.code, at, drops.shown(payload)), topic)
    if len(payload) > DOCUMENT_BYTES_MAX:
        return _refused(TOO_LONG, "", {"found": len(payload), "limit": DOCUMENT_BYTES_MAX}, account, at)
    try:
        body = _Ask.model_validate_json(payload)
    except ValidationError as errors:
        first = errors.errors(include_url=False, include_input=False, include_context=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole"
        return _refused(FORM, _id_of(payload), {"where": where[:80], "found": str(first["msg"])[:200]}, account, at)
    request = Request(
        RequestId(body.id),
        Code(body.kind),
        tuple(body.arguments.items()),
        f"{account}/{body.by}" if body.by else account,
        place,
        body.expires_utc.astimezone(UTC),
    )
    return RequestItem(request, account, place, at)


def _id_of(payload: bytes) -> str:
    try:
        return _AskId.model_validate_json(payload).id
    except (ValidationError, ValueError):
        return ""


def _refused(kind: ReasonKind, request: str, facts: Mapping[str, Fact], account: str, at: Instant) -> RefusedItem:
    reply = Reply(RequestId(request), False, kind.code, tuple(facts.items()), kind.words)
    return RefusedItem(reply, account, kind.words.format(**facts), at)
