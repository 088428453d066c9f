"""Pages for the bench: sticks to cut, cards to set out by, labels. One file each, nothing fetched, no script needed."""
