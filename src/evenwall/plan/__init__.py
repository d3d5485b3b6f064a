"""the decisions: shots, weighout, program (turning), costs, day"""
