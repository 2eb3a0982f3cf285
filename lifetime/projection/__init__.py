"""From one day to years: season, feedback of health on stress, and the first limit reached."""
