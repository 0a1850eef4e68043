"""Reading a channel of a closed run file with the standard library and numpy, as the README prints it."""

FIVE_LINES = """
import json, sqlite3, zlib, numpy
db = sqlite3.connect("file:RUN.sqlite?mode=ro", uri=True)
grp, row, kind, a, tare = db.execute("SELECT grp, position, integer_type, coefficients, tare FROM channels WHERE name = 'friction_force_n'").fetchone()
chunks = [(n, numpy.frombuffer(zlib.decompress(b), "u1").reshape(2 if kind == "int16" else 4, -1).T.tobytes()) for n, b in db.execute("SELECT n, counts FROM chunks WHERE grp = ? ORDER BY id", (grp,))]
counts = numpy.concatenate([numpy.frombuffer(b, "<i2" if kind == "int16" else "<i4").reshape(-1, n)[row] for n, b in chunks])
values = numpy.polynomial.polynomial.polyval(counts, json.loads(a)) - tare
"""  # noqa: E501 - lines as printed
