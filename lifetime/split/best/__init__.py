"""The best possible split of a demand: what no control strategy can beat."""
