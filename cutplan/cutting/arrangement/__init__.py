"""What a piece takes of a stick beside its neighbours."""
