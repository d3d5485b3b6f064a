"""the piece and the cavity: surface, solid, repair, remesh, pockets, estimate (no scan)"""
