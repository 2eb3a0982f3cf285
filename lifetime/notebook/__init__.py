"""The front door for a notebook: frames and arrays in, results that print themselves, frames and figures out."""
