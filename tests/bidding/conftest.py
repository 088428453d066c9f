"""The demo's shop, read once."""

from __future__ import annotations

import pytest

from cutplan.shop import Shop, load_shop
from tests.bidding.bids import DEMO


@pytest.fixture(scope="session")
def shop() -> Shop:
    return load_shop(DEMO / "shop.toml")
