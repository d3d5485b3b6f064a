"""One coat in a hollow ball: a wall, a resin, a motion and a shot become a forecast."""

import numpy as np
import trimesh

from evenwall.files.resin_file import load_resin
from evenwall.film.run import forecast
from evenwall.film.state import Shot
from evenwall.geometry.surface import Surface
from evenwall.turning.patterns import constant
from evenwall.units import from_si, to_si

ball = trimesh.creation.icosphere(subdivisions=3, radius=to_si(40, "mm"))
wall = Surface(np.asarray(ball.vertices), np.asarray(ball.faces))
turning = constant(frame_rate=to_si(10, "rpm"), cradle_rate=to_si(6.2, "rpm"))
shot = Shot(volume=to_si(20, "mL"))

film = forecast(wall, load_resin("museum-gradual"), turning, (shot,), second_mesh=False)

figures = film.figures
print(f"mean {from_si(figures.mean, 'mm'):.2f} mm, thinnest {from_si(figures.least, 'mm'):.2f} mm")
print(f"the film gels {from_si(film.coats[0].gel_film, 'min'):.1f} minutes after mixing")
