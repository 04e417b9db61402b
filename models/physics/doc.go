// Package physics finds where a strike landed by fitting the bag's own
// equations of motion to a window, without any label: the rig file says how the
// bag swings, and the window must agree.
//
// # Motion
//
// In each vertical plane a bag on a chain is a double pendulum; about the
// vertical it twists (textbook mechanics, see rig.Mechanics, whose symbols are
// used here: y the displacement of the lower pivot, q the bag's angle, depths
// below that pivot). Horizontal vectors are complex, y + i x, one equation for
// both planes. Written in its two modes n, swing and rocking, of shape
// (P_n, Q_n), angular frequency w_n and decay time D_n, the motion is
//
//	y = sum P_n e_n,  q = sum Q_n e_n
//	e_n'' + (2/D_n) e_n' + w_n^2 G(t) e_n = (P_n + d Q_n) F(t)
//
// for a force F at depth d. G is the apparent gravity in units of the standard
// one. A bag that swings on a taut chain must rise, and what the hanger then
// bears scales every restoring force: the accelerometer's vertical channel
// shows it, after a running median and mean, and the rotation rate carries it
// from the sensor at depth s to the centre of mass c: g_c = f_z + (c-s) |q'|^2.
// Both modes scale alike, so they stay apart.
//
// The sensor reads the specific force across the bag and the rate of tilting,
//
//	f = y'' + s q'' + g_s q,  q'
//
// turned by the bag's own twist, which the gyroscope's vertical axis measures
// or, without one, the fit looks for.
//
// # Fit
//
// All of it is linear in eight unknown complex numbers: four amplitudes of the
// swing before the strike, A = J/m and B = d A with J the impulse, the
// accelerometer's bias, and a step in its integral that is free where readings
// were clipped. Weighted least squares with weak priors on what a bag can do
// finds them, from
//
//   - f before the strike,
//   - the integral of f over the contact, read at several moments after it;
//     readings during contact enter here alone, since in the integral the pulse's
//     shape, the bag's bending and the ringing of its core cancel,
//   - q' before and after, where there is a gyroscope, and
//   - f after the contact, where there is none.
//
// A force at one place makes B a real multiple of A. With S the covariance of
// (A, B), W its inverse and h = (1, d), the likelihood with A eliminated (the
// profile likelihood) is |h'W(A,B)|^2 / (2 (h'Wh + t)), t from a weak prior on
// the impulse; it is taken over a grid of depths on the bag. So both sensors
// decide together where the push points and how deep it is. A fit that is much
// worse than usual tries earlier onsets: near the dead height a blow is found
// late.
//
// The likelihood as a density over depth (and twist) gives height and direction
// with their spread. Errors of the model last longer than a sample, so it is
// flattened by a fixed factor and by how much more misfit was found than usual.
// Where depths on either side of the dead height compete, the density has two
// lobes whose pushes point opposite ways: the heavier one answers, and the weight
// of the other is the probability of a flip.
//
// # Where it landed
//
// A push that passes the axis twists the bag: J R sin(delta) = -I dw, with R
// the bag's radius, I its moment of inertia about its axis and dw the change of
// spin. The bearing is that against the push, turned by delta. A bag without
// a stated cover is taken to have one of 6 % of its mass, since the skin lies
// where it counts most.
//
// # Limits
//
// Without a gyroscope the rotation's part of the apparent gravity is unknown, and
// where the sensor sits far from the centre of mass a high blow may pass for a
// low one; the misfit shows most of these. Sources: textbook mechanics (Lagrange's
// equations, impulse and momentum), least squares, profile likelihood; the
// round numbers were settled on simulated recordings of four rig revisions.
//
// Everything stated is about the mount's yaw as the rig file has it. A vertical
// push at the bag's radius turns the bag as a change of height does, and the
// chain hides it from the sensor: upward strikes read some centimetres high.
package physics
