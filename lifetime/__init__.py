"""Life and cost of a hybrid storage pack under each candidate power-split strategy.

Imports run one way: this package never imports Flask, SQLAlchemy or ``webapi``
(``tests/contracts/test_imports.py`` proves it).
"""
