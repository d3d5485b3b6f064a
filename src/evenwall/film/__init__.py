"""the physics on the mold wall: equations, operators, state, stepping, run, findings"""
