"""The proof of a bound in a form that checkers written elsewhere read."""
