"""From orders to a finished plan: take off, centre, cut, sequence, audit."""
