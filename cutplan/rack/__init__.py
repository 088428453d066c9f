"""The rack: offcuts that wait to be used, new sticks that are there, and which plans have been cut."""
