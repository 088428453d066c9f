"""Rails with holes already in them, which are cut with their middle on a hole or midway between two."""
