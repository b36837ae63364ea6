"""Yield and defect rates over time, ranked defects, and the records behind them."""
