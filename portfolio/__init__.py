"""A portfolio of façade zones, the tests behind them and what is done about the gaps."""
