"""From one power demand to two sources: split rules within the limits of the bank."""
