"""What `import cutplan` gives: the commands' work for Python users, validated at the door as files are."""
