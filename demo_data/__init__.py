"""Invented shops: a seeded simulator, planted faults with their truth, files as shops keep them."""

from __future__ import annotations

from demo_data.files import write_files
from demo_data.kept import write_shop_files
from demo_data.plan import end_of
from demo_data.random_shops import RANDOM_FAULTS, random_spec
from demo_data.shop import SimulatedShop, simulate
from demo_data.shops import (
    DEMO_SEED,
    SECOND_SEED,
    demo_spec,
    second_spec,
)
from demo_data.spec import Fault, ShopSpec
from demo_data.truth import Planted, explains, touches

__all__ = [
    "DEMO_SEED", "RANDOM_FAULTS", "SECOND_SEED", "Fault", "Planted", "ShopSpec", "SimulatedShop",
    "demo_shop", "demo_spec", "demo_truth", "end_of", "explains", "random_spec",
    "second_spec", "simulate", "touches", "write_files", "write_shop_files",
]


def demo_shop() -> SimulatedShop:
    """The demo shop, the same for everybody."""
    return simulate(demo_spec(), DEMO_SEED)


def demo_truth() -> tuple[Planted, ...]:
    """What is planted in the demo shop."""
    return demo_shop().truth
