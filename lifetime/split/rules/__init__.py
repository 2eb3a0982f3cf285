"""Split rules, one a file; ``split.rule`` holds their contracts."""
