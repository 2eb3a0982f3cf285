"""What lives cost: discount factors, the life-cycle cost of a pack, and the order of strategies."""
