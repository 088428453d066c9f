"""The commands. What one needs is imported when it runs, so that help is quick."""
