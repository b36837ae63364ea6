"""Service orders: opened and carried on step by step, each with its audit row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import Connection

from qc.domain.service import (
    OPEN,
    ServiceOrder,
    ServiceStep,
    check_service_step,
    orders_of,
)
from qc.errors import Conflict, NotFound
from qc.store.base import Store
from qc.store.cases import SERVICE_STEP
from qc.store.schema import service_steps
from qc.store.steps import StepLog, said_in

LOG = StepLog(table=service_steps, key="order_id", what=SERVICE_STEP)


def open_order(store: Store, said: Mapping[str, Any], *, by: str, at_us: int) -> ServiceOrder:
    """Open an order; it gets the next number.

    Raises
    ------
    InputError
        Nobody is named.
    Conflict
        The platen has an open order already.
    """
    with LOG.changing(store, by, at_us) as change:
        orders = orders_of(_steps(change.connection))
        platen = (str(said["press"]), str(said["platen"]))
        for order in orders.values():
            if order.is_open and (order.press, order.platen) == platen:
                raise Conflict(f"the {platen[1]} platen of press {platen[0]} has service order "
                               f"{order.order_id} already; carry that one on")
        rows = LOG.append(change, f"S{len(orders) + 1}", [(OPEN, said)])
        return ServiceOrder(steps=tuple(map(_step, rows)))


def take_service_step(
    store: Store, order_id: str, step: str, said: Mapping[str, Any], *, by: str, at_us: int,
    check: Callable[[ServiceOrder], None] = lambda order: None,
) -> ServiceOrder:
    """Add a step to an order; the order as it is now. ``check`` may refuse it (Conflict).

    The same step said again by the same person changes nothing.

    Raises
    ------
    NotFound
        There is no such order.
    InputError, Conflict
        As `qc.domain.service.check_service_step` says.
    """
    with LOG.changing(store, by, at_us) as change:
        order = orders_of(_steps(change.connection, order_id)).get(order_id)
        if order is None:
            raise NotFound(f"there is no service order {order_id!r}")
        last = order.steps[-1]
        if (last.step, dict(last.said), last.by) == (step, dict(said), change.by):
            change.drop()
            return order
        check_service_step(order, step, said)
        check(order)
        rows = LOG.append(change, order_id, [(step, said)])
        return ServiceOrder(steps=(*order.steps, *map(_step, rows)))


def read_orders(store: Store, *, as_of_us: int | None = None) -> dict[str, ServiceOrder]:
    """Every order as it was at a moment, in the order they were opened."""
    with store.reading() as connection:
        return orders_of(_steps(connection, as_of_us=as_of_us))


def check_service(store: Store) -> list[str]:
    """Rows that are not as the audit log saw them written, one line each."""
    with store.reading() as connection:
        return list(LOG.faults(connection))


def _steps(
    connection: Connection, order_id: str | None = None, as_of_us: int | None = None
) -> list[ServiceStep]:
    return list(map(_step, LOG.read(connection, key=order_id, as_of_us=as_of_us)))


def _step(row: dict[str, Any]) -> ServiceStep:
    return ServiceStep(number=row["number"], order_id=row["order_id"], step=row["step"],
                       by=row["taken_by"], at_us=row["taken_at"], said=said_in(row))
