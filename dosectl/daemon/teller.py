"""Tells people and hubs: replies, alarms, the state view. Display only; a failure here touches no feed."""

import time
from collections.abc import Callable, Mapping
from typing import Any

from dosectl.bus.client import Bus
from dosectl.bus.items import RefusedItem, RequestItem
from dosectl.core.controller.decision import Decision
from dosectl.core.controller.state import State
from dosectl.core.site import Site
from dosectl.daemon.view import view_of
from dosectl.model.requests import RequestId
from dosectl.texts.render import Texts

VIEW_PERIOD_S = 1.0  # of the machine's own time: a display, whatever the pool's clock does
ACCOUNTS_KEPT = 500


class BusTeller:
    """Publishes on the bus. `extra` gives what only the process knows."""

    def __init__(self, bus: Bus, site: Site, texts: Texts, extra: Callable[[], Mapping[str, Any]]) -> None:
        self._bus = bus
        self._site = site
        self._texts = texts
        self._extra = extra
        self._accounts: dict[RequestId, str] = {}
        self._view_due = 0.0
        self._alarms: dict[str, Any] = {}
        self._hours: float | None = None

    def asked(self, item: RequestItem) -> None:
        """Remembers which account a request came from."""
        self._accounts[item.request.id] = item.account
        while len(self._accounts) > ACCOUNTS_KEPT:
            self._accounts.pop(next(iter(self._accounts)))

    def refused(self, item: RefusedItem) -> None:
        """The reply to a request that was never judged."""
        self._bus.publish_reply(item.account, item.reply, item.text)

    def tell(self, state: State, decision: Decision) -> None:
        """Replies at once, alarms on a change, the view once a second or on a change that a person would look for."""
        for reply in decision.replies:
            account = self._accounts.get(reply.request)
            if account is not None:
                self._bus.publish_reply(account, reply, self._texts.reply(reply))
        now = time.monotonic()
        if not (decision.replies or decision.alarms or now >= self._view_due):
            return
        self._view_due = now + VIEW_PERIOD_S
        view = view_of(self._site, self._texts, state, decision, dict(self._extra()))
        self._bus.publish_state(view)
        self._ask_for_hours(decision)
        if decision.alarms:
            self._publish_alarms(view["alarms"])

    def _ask_for_hours(self, decision: Decision) -> None:
        """A hub may run the pump for so long; nothing is fed on it, flow is proven as ever."""
        hours = decision.control.flow_wanted_h
        if self._site.pool.asks_pump_hours and hours != self._hours and self._bus.publish_pump_hours(hours):
            self._hours = hours

    def _publish_alarms(self, standing: list[dict[str, Any]]) -> None:
        """Retained, one topic an alarm; taken away when it is normal again."""
        present = {item["code"]: item for item in standing}
        for code, item in present.items():
            if self._alarms.get(code) != item:
                self._bus.publish_alarm(item["code"], item)
        for code in set(self._alarms) - set(present):
            self._bus.publish_alarm(self._alarms[code]["code"], None)
        self._alarms = present
