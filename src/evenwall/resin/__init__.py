"""the material laws: data, cure, viscosity, heat, witness (cup against film), mix"""
