package rig

import "strings"

// Cautions are for everybody who goes on to a real bag. A new rig file begins
// with them, and commands print them wherever strikes are planned or a rig is
// described.
const Cautions = `Before anybody strikes a real bag:
- Hang it from hardware and a beam rated well above the load: a struck bag
  pulls with a multiple of its weight. Where local building or safety codes say
  more, they come first; leave the mounting to licensed practice where they ask
  for it.
- Nobody stands behind or beside the bag while it is struck or swinging.
- Wear wraps and gloves. Warm up, rest between rounds, stop at pain.
- Fix sensor, board and battery so that no fist can reach them and nothing can
  come loose. Use a protected battery, keep it away from where blows land,
  charge it off the bag and within its maker's limits, and take a swollen, hot
  or dented one out of use.`

// commented writes text as a TOML comment.
func commented(text string) string {
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		lines[i] = "# " + l
	}
	return strings.Join(lines, "\n")
}
