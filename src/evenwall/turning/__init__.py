"""two-axis motion: kinematics, patterns, coverage of directions, recorded motion"""
