"""A first look, cell by cell: is the line good enough, and what would another curve change?

Run it as a script, or cell by cell in an editor that knows the mark `# %%`. All readings are invented.
"""

# %% Standards of copper that bend a little at the top
import groundstate as gs

level = [0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0]
absorbance = [0.0006, 0.0512, 0.1009, 0.1978, 0.2903, 0.3781, 0.4602]
line = gs.calibrate(level, absorbance, unit="mg/L")
print(line)

# %% Does a line serve? The residuals bend, and Mandel's test says so.
print("residuals", [f"{residual:+.4f}" for residual in line.residuals])
print("Mandel", line.mandel())

# %% What if: another shape, other weights, without the top standard. The points stay, each time a new calibration.
candidates = {
    "line": line,
    "quadratic": line.refit(shape="quadratic"),
    "line, weights 1/x": line.refit(noise="1/x", zero="leave_out"),
    "line without 5 mg/L": line.refit(exclude=[6]),
}

# %% The same reading by each of them
for name, calibration in candidates.items():
    found = calibration.concentration(0.2431)
    print(f"{name:22} {found.value:.4f} mg/L, u {found.u:.4f}, {found.status}, RSE {calibration.rse:.2f} %")

# %% Let the tests choose, and read why
choice = gs.choose_shape(level, absorbance, shapes=["line", "quadratic"])
print(choice.shape, "|", "; ".join(f"{one.shape}: {one.reason}" for one in choice.candidates))
