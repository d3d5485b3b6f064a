"""one page a view: Piece, Resin, Coats, Machine, Turning, Forecast, Bench, Ledger, and the start"""
