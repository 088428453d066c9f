"""Pieces whose ends are not square: what two neighbours lose depends on the slopes of their cut lines."""
