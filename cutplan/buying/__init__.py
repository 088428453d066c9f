"""The buyer's questions: what to order for the weeks ahead, and which lengths are worth stocking."""
