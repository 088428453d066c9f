"""What a piece takes of a stick beside its neighbours: one protocol, one module or folder for each way of lying.

To add one: a folder with its `Arranger` and `Arrangement` (protocol.py), a line in choosing.py, and its twin in
cutplan/checking/arrangement/, which shares no code with it.
"""
