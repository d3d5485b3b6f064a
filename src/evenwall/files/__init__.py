"""edge, inward: job file, mesh file, resin file (TOML data), motion file, results"""
