"""Is the fitted life fair, and what else do the lives tell? One module for each check."""
