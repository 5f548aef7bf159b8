"""All kinds of requests, in reading order. A new kind: its file and its line here; forms are made from it."""

from dosectl.core.requests.kind import RequestKind
from dosectl.core.requests.kinds.added_by_hand import ADDED_BY_HAND
from dosectl.core.requests.kinds.answer_alarm import ANSWER_ALARM
from dosectl.core.requests.kinds.attest_proof import ATTEST_PROOF
from dosectl.core.requests.kinds.away import COME_BACK, GO_AWAY
from dosectl.core.requests.kinds.back_in_service import BACK_IN_SERVICE
from dosectl.core.requests.kinds.calibrated import CALIBRATED
from dosectl.core.requests.kinds.clear_latch import CLEAR_LATCH
from dosectl.core.requests.kinds.close_season import CLOSE_SEASON
from dosectl.core.requests.kinds.confirm_plan import CONFIRM_PLAN
from dosectl.core.requests.kinds.dispense import DISPENSE
from dosectl.core.requests.kinds.mark_useless import MARK_USELESS
from dosectl.core.requests.kinds.refill import REFILL
from dosectl.core.requests.kinds.release import RELEASE
from dosectl.core.requests.kinds.replaced import REPLACED
from dosectl.core.requests.kinds.service_off import SERVICE_OFF
from dosectl.core.requests.kinds.service_on import SERVICE_ON
from dosectl.core.requests.kinds.shelve_alarm import SHELVE_ALARM
from dosectl.core.requests.kinds.stop import STOP
from dosectl.core.requests.kinds.take_out_of_service import TAKE_OUT_OF_SERVICE
from dosectl.core.requests.kinds.unshelve_alarm import UNSHELVE_ALARM
from dosectl.core.requests.kinds.water_test import WATER_TEST
from dosectl.core.requests.kinds.withdraw_test import WITHDRAW_TEST

KINDS: tuple[RequestKind, ...] = (
    STOP,
    CLOSE_SEASON,
    SERVICE_ON,
    WATER_TEST,
    WITHDRAW_TEST,
    ADDED_BY_HAND,
    REFILL,
    CALIBRATED,
    REPLACED,
    GO_AWAY,
    COME_BACK,
    ANSWER_ALARM,
    SHELVE_ALARM,
    UNSHELVE_ALARM,
    TAKE_OUT_OF_SERVICE,
    BACK_IN_SERVICE,
    MARK_USELESS,
    RELEASE,
    SERVICE_OFF,
    CLEAR_LATCH,
    CONFIRM_PLAN,
    ATTEST_PROOF,
    DISPENSE,
)
