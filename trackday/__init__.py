"""Weather in, decisions out: what a privateer club racer loads, bolts on, sets and ties down."""

__version__ = "0.1.0"
