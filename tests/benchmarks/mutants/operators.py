"""Mutants of the interlock room by the domain's own operators, made from the syntax tree. Nothing is written to the disk.

permit, deny : the guard always permits, or always denies        latch : a latched trip is forgotten at the next step
limit : a figure doubled (a setting: doubled, or its range's end)   delay : a time dropped (a setting: its least)
unknown : a reading that is not known counts as good              flip : a comparison turned round
fewer : a kind of signals is missing from a list
"""

import ast
import copy
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOM = Path(__file__).parents[3] / "dosectl" / "core" / "interlocks"
KINDS = ("permit", "deny", "latch", "limit", "delay", "unknown", "flip", "fewer", "by_hand")
_TURNED: dict[type[ast.cmpop], type[ast.cmpop]] = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}


@dataclass(frozen=True)
class Mutant:
    """One changed module. name : module, operator and the code it changes; module : dotted; source : as changed."""

    name: str
    kind: str
    module: str
    source: str


JUDGED_BY = (
    "after_feed",
    "buffering",
    "by_itself",
    "contradiction",
    "fallback",
    "mixed",
    "poured",
    "shown",
    "slow_side",
    "swing",
    "two_tests",
)
"""What guards judge by and have no judgement of their own in: figures and comparisons there decide as much."""


def _guard_files() -> list[Path]:
    guards = sorted(path for path in (ROOM / "guards").glob("*.py") if path.name != "__init__.py")
    return [*guards, *(ROOM / f"{name}.py" for name in JUDGED_BY)]


def dotted(path: Path) -> str:
    """Module name of a file of the room."""
    return ".".join(("dosectl", "core", "interlocks", *path.relative_to(ROOM).with_suffix("").parts))


class _Maker:
    """Collects the mutants of one file."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._tree = ast.parse(path.read_text(encoding="utf-8"))
        self._names: Counter[str] = Counter()
        self.found: list[Mutant] = []

    def add(self, kind: str, what: str, change: Callable[[ast.Module], None]) -> None:
        tree = copy.deepcopy(self._tree)
        change(tree)
        name = f"{self._path.stem}:{kind}:{what}"
        self._names[name] += 1
        if self._names[name] > 1:
            name += f" #{self._names[name]}"
        self.found.append(Mutant(name, kind, dotted(self._path), ast.unparse(ast.fix_missing_locations(tree))))

    def each(self, wanted: Callable[[ast.AST], bool]) -> Iterator[tuple[int, ast.AST]]:
        """Index in walking order, so that the same node is found again in a copy."""
        yield from ((number, node) for number, node in enumerate(ast.walk(self._tree)) if wanted(node))


def _at(tree: ast.Module, number: int) -> ast.AST:
    return next(node for index, node in enumerate(ast.walk(tree)) if index == number)


def _always(maker: _Maker) -> None:
    for number, node in maker.each(lambda n: isinstance(n, ast.FunctionDef) and n.name == "judge"):
        assert isinstance(node, ast.FunctionDef)
        owner = next(c.name for c in ast.walk(maker._tree) if isinstance(c, ast.ClassDef) and node in c.body)
        # The guard's own permit: a test may ask for that very object.
        permit = "from dosectl.model.verdicts import Permit as _P\nreturn getattr(self, 'permit', None) or _P(self.code), memory"
        deny = (
            "from dosectl.core.interlocks.answers import deny as _d\nfrom dosectl.model.reasons import Reason as _R\n"
            "return _d(self.code, _R(self.code, (), evidence.now)), memory"
        )
        for kind, text in (("permit", permit), ("deny", deny)):

            def change(tree: ast.Module, number: int = number, text: str = text) -> None:
                body = _at(tree, number)
                assert isinstance(body, ast.FunctionDef)
                body.body = ast.parse(text).body

            maker.add(kind, owner, change)


def _latch(maker: _Maker) -> None:
    calls = maker.each(lambda n: isinstance(n, ast.Call) and isinstance(n.func, ast.Name) and n.func.id == "latch")
    for number, node in calls:

        def change(tree: ast.Module, number: int = number) -> None:
            call = _at(tree, number)
            assert isinstance(call, ast.Call)
            call.func = ast.parse(
                "(lambda *a, **k: (__import__('dosectl.core.interlocks.answers', fromlist=['x']).latch(*a, **k)[0], a[1]))",
                mode="eval",
            ).body

        maker.add("latch", ast.unparse(node)[:60], change)


NO_FIGURES = ("HOUR_S", "DAY_S", "MB", "UNSEEN", "FINE", "BAD", "NEVER_S", "TOO_LOW", "TOO_HIGH")  # units, and names of cases


def _figures(maker: _Maker) -> None:
    top = {id(node) for node in maker._tree.body}  # local first values are no figures
    for number, node in maker.each(lambda n: isinstance(n, ast.Assign) and id(n) in top):
        for place, (name, expression) in enumerate(_assigned(node)):
            try:
                value = eval(compile(ast.Expression(expression), "", "eval"), {"HOUR_S": 3600.0, "DAY_S": 86400.0})
            except Exception:  # noqa: BLE001 - not a figure
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) or name in NO_FIGURES:
                continue
            delay = name.endswith("_S") or "_S_" in name
            for kind, new in (("delay", 0.0), ("limit", value * 2)) if delay else (("limit", value * 2),):

                def change(tree: ast.Module, number: int = number, place: int = place, new: float = new) -> None:
                    assign = _at(tree, number)
                    assert isinstance(assign, ast.Assign)
                    if isinstance(assign.value, ast.Tuple) and isinstance(assign.targets[0], ast.Tuple):
                        assign.value.elts[place] = ast.Constant(new)
                    else:
                        assign.value = ast.Constant(new)

                maker.add(kind, f"{name} = {ast.unparse(expression)} -> {new:g}", change)


def _assigned(node: ast.AST) -> list[tuple[str, ast.expr]]:
    """Names and expressions of `a = 1` and of `a, b = 1, 2`."""
    assert isinstance(node, ast.Assign)
    target, value = node.targets[0], node.value
    pairs = (
        zip(target.elts, value.elts, strict=True)
        if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple)
        else [(target, value)]
    )
    return [(name.id, expression) for name, expression in pairs if isinstance(name, ast.Name)]


def _settings(maker: _Maker) -> None:
    named = maker.each(lambda n: isinstance(n, ast.AnnAssign) and isinstance(n.value, ast.Call))
    for number, node in named:
        assert isinstance(node, ast.AnnAssign)
        call = node.value
        assert isinstance(call, ast.Call)
        if not (isinstance(call.func, ast.Name) and call.func.id == "setting" and isinstance(call.args[0], ast.Constant)):
            continue
        words = {k.arg: k.value.value for k in call.keywords if isinstance(k.value, ast.Constant)}
        default, most, least = call.args[0].value, words.get("le"), words.get("ge")
        news: list[tuple[str, object]] = []
        if isinstance(default, int | float) and not isinstance(default, bool):
            doubled = default * 2 if most is None or default * 2 <= most else most
            news.append(("limit", doubled))
            if words.get("unit") == "s" and least is not None:
                news.append(("delay", least))
        for kind, new in news:
            if new == default:
                continue

            def change(tree: ast.Module, number: int = number, new: object = new) -> None:
                assign = _at(tree, number)
                assert isinstance(assign, ast.AnnAssign)
                assert isinstance(assign.value, ast.Call)
                assign.value.args[0] = ast.Constant(new)

            maker.add(kind, f"{ast.unparse(node.target)} = {default} -> {new}", change)


def _unknown(maker: _Maker) -> None:
    def wanted(node: ast.AST) -> bool:
        if isinstance(node, ast.Compare) and len(node.ops) == 1 and isinstance(node.ops[0], ast.Is | ast.IsNot):
            right = node.comparators[0]
            return isinstance(right, ast.Constant) and isinstance(right.value, bool)
        return isinstance(node, ast.Attribute) and ast.unparse(node) in ("Status.OUT_OF_SPEC", "Status.MAINTENANCE")

    for number, node in maker.each(wanted):

        def change(tree: ast.Module, number: int = number) -> None:
            found = _at(tree, number)
            if isinstance(found, ast.Attribute):
                found.attr = "UNKNOWN"
                return
            assert isinstance(found, ast.Compare)
            right = found.comparators[0]
            assert isinstance(right, ast.Constant)
            # `is True` becomes `is not False`, and so on: unknown goes to the other side.
            found.ops = [ast.IsNot() if isinstance(found.ops[0], ast.Is) else ast.Is()]
            found.comparators = [ast.Constant(not right.value)]

        maker.add("unknown", ast.unparse(node)[:70], change)


def _flip(maker: _Maker) -> None:
    for number, node in maker.each(lambda n: isinstance(n, ast.Compare) and len(n.ops) == 1 and type(n.ops[0]) in _TURNED):

        def change(tree: ast.Module, number: int = number) -> None:
            compare = _at(tree, number)
            assert isinstance(compare, ast.Compare)
            compare.ops = [_TURNED[type(compare.ops[0])]()]

        maker.add("flip", ast.unparse(node)[:70], change)


def _fewer(maker: _Maker) -> None:
    def wanted(node: ast.AST) -> bool:
        listed = isinstance(node, ast.Set | ast.Tuple | ast.List) and node.elts
        return bool(listed) and all(ast.unparse(item).startswith("SignalKind.") for item in node.elts)  # type: ignore[attr-defined]

    for number, node in maker.each(wanted):
        assert isinstance(node, ast.Set | ast.Tuple | ast.List)
        for place, item in enumerate(node.elts):

            def change(tree: ast.Module, number: int = number, place: int = place) -> None:
                listed = _at(tree, number)
                assert isinstance(listed, ast.Set | ast.Tuple | ast.List)
                del listed.elts[place]

            maker.add("fewer", ast.unparse(item), change)


def of_guards() -> list[Mutant]:
    """All mutants of all guards, and of what they judge by."""
    found: list[Mutant] = []
    for path in _guard_files():
        maker = _Maker(path)
        for make in (_always, _latch, _figures, _settings, _unknown, _flip, _fewer):
            make(maker)
        found += maker.found
    return found
