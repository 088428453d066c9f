# %% [markdown]
# # A worked example
#
# Run it cell by cell in an editor that knows `# %%`, or as a whole: `python data/demo/example.py`.
# The shop is invented, and so are its prices.

# %%
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pandas as pd

import cutplan as cp

DEMO = Path(__file__).parent if "__file__" in globals() else Path("data/demo")
SAVED = Path(tempfile.mkdtemp())
pd.set_option("display.width", 120, "display.max_columns", 20)

# %% [markdown]
# ## A shop and its pieces, built here
#
# Lengths and prices are texts as on a tape or a price list, so that they are exact. A float such as 34.875 is refused.

# %%
m = cp.Model(unit="in", kerf="1/8 in", currency="USD")
rail = m.add_profile("box-rail", kind="rail", head_trim="1/2 in", keep_from="36 in")
rail.add_stock("16 ft", price="25.40").add_stock("20 ft", price="31.10", qty=3)
m.add_piece(rail, "34 7/8 in", qty=10, mark="R1", for_="porch gate")
m.add_piece(rail, "70 5/8 in", qty=6, mark="R2", for_="porch bay")

result = m.solve(limit=20)
print(result.summary())

# %% [markdown]
# `is_proven()` says that no plan at all is cheaper, and that the plan's file is enough to prove it.

# %%
print(result.cost, result.bound, result.is_proven())

# %% [markdown]
# ## What to cut and what to buy
#
# The frames hold floats to reckon with; the columns that end in `_text` are lengths as the tape reads them.

# %%
print(result.cuts()[["first", "last", "mark", "length_text", "start_text", "end_text"]])
print(result.purchases()[["profile", "length_text", "to_buy", "amount"]])

# %% [markdown]
# ## Saved, and proven again from the file alone

# %%
result.plan.save(SAVED / "plan.json")
checked = cp.check(SAVED / "plan.json")
print(checked.summary())

# %% [markdown]
# ## A whole week
#
# A week may be a file or a DataFrame. Read all columns as text: pandas would make floats of some openings. The profiles
# are planned side by side by whoever is handed in: here threads, which need no `if __name__ == "__main__":`.

# %%
frame = pd.read_csv(DEMO / "week.csv", dtype=str)
shop = cp.read_shop(DEMO / "shop.toml")
week = cp.cut(frame, shop, limit=cp.Budget(60, workers=ThreadPoolExecutor(2)))
print(week.summary())

# %% [markdown]
# ## What each gate and bay costs in stock
#
# The cost and the waste of each stick are shared out among its pieces by their length.

# %%
openings = week.by_opening()
print(openings.groupby("for")[["net", "waste", "cost"]].sum().round(2).sort_values("cost", ascending=False).head())
