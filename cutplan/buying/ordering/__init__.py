"""The cheapest order: numbers of sticks bounded by cuts, and the plans that they are enough for (see search.py)."""
