"""What lives cost: discount factors, life-cycle cost, break-even prices, and the rank of strategies."""
