"""frame, cradle and what they carry: parts, balance, clearance, strength, closing, cradle"""
