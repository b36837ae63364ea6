"""What is offered of a service order on paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboard.formats import THIN, Clock, Heat
from dashboard.pages.presses.service import PlatenService, order_part
from qc.domain.service import OrderStanding
from tests.dashboard.asking import links, plain, words
from tests.reports.test_service_order import ZONE, standing


def drawn(one: OrderStanding) -> object:
    """The open order as the browser gets it."""
    it = PlatenService(press="P4", platen="upper", orders=(one,), survey=None, instruments=())
    return plain(order_part(it, Clock(ZONE), Heat("c")))


@pytest.mark.parametrize(("n", "there", "told"), [
    (2776, ["/orders/S1.pdf?list=no", "/orders/S1.pdf"], "2 776 pieces, about 90 pages more"),
    (20_000, ["/orders/S1.pdf?list=no", "/orders/S1.csv"], "20 000 pieces, as CSV"),
])
def test_a_long_list_is_printed_by_itself(n: int, there: list[str], told: str) -> None:
    one = standing(out=True)
    assert one.pressed is not None
    one = replace(one, pressed=replace(one.pressed, n_pieces=n))
    tree = drawn(one)
    assert links(tree) == there
    assert told in words(tree).replace(THIN, " ")


def test_an_order_without_pieces_is_one_link() -> None:
    assert links(drawn(standing(out=False))) == ["/orders/S1.pdf"]
