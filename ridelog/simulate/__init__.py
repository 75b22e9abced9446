"""Make logs of an invented car with known truth."""
