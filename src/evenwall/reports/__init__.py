"""edge, outward: worksheet, pdf (typst), dxf, svg, pictures, record"""
