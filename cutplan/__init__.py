"""cutplan: a week of gates and railing bays, cut from the stock at hand with provably least waste."""
