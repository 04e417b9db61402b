package intake

import "strings"

// role is what a named column or key carries.
type role int8

const (
	roleNone  role = -1
	roleTime  role = 0
	roleAX    role = 1 // and AY, AZ, GX, GY, GZ
	roleGX    role = 4
	roleAccel role = 7 // three accelerations in a list
	roleGyro  role = 8 // three rotation rates in a list
)

// column is the column of readings that a scalar role fills.
func (r role) column() int { return int(r) - 1 }

// kind tells which quantity a role is of.
func (r role) kind() quantity {
	switch {
	case r == roleTime:
		return ofTime
	case r == roleGyro || r >= roleGX && r < roleAccel:
		return ofGyro
	default:
		return ofAccel
	}
}

// field is a name understood: what it carries and, where the name says so, in
// which unit ("" otherwise).
type field struct {
	role role
	unit string
}

// stems maps names without unit to what they carry.
func stems() map[string]role {
	m := map[string]role{}
	for _, s := range []string{"t", "ts", "time", "timestamp", "stamp", "tick", "ticks", "clock"} {
		m[s] = roleTime
	}
	for _, s := range []string{"a", "acc", "accel", "acceleration", "accelerometer"} {
		m[s] = roleAccel
		for k, axis := range []string{"x", "y", "z"} {
			m[s+axis] = roleAX + role(k)
		}
	}
	for _, s := range []string{"g", "gyr", "gyro", "gyroscope", "w", "omega"} {
		m[s] = roleGyro
		for k, axis := range []string{"x", "y", "z"} {
			m[s+axis] = roleGX + role(k)
		}
	}
	return m
}

// namer understands column and key names.
type namer struct{ stems map[string]role }

func newNamer() *namer { return &namer{stems()} }

// field understands one name, such as "ax", "acc_x [g]", "time_ms" or
// "gx_dps". Case does not matter.
func (n *namer) field(name string) (field, bool) {
	name = strings.ToLower(strings.Trim(name, " \t\"'\ufeff"))
	switch name {
	case "micros", "microseconds":
		return field{roleTime, "us"}, true
	case "millis", "milliseconds":
		return field{roleTime, "ms"}, true
	case "seconds":
		return field{roleTime, "s"}, true
	}
	parts := strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune(" _-.[]()", r) })
	for i := 1; i <= len(parts); i++ {
		r, ok := n.stems[strings.Join(parts[:i], "")]
		if !ok {
			continue
		}
		rest := strings.Join(parts[i:], "")
		if rest == "" {
			return field{role: r}, true
		}
		if u, ok := unitOf(r.kind(), rest); ok {
			return field{r, u}, true
		}
	}
	return field{role: roleNone}, false
}

// shape is what the names of a log say: units ("" where they do not), and
// which quantities are there.
type shape struct {
	units [3]string // by quantity
	gyro  bool
}

// note takes in one field and reports two units for one quantity.
func (s *shape) note(f field) bool {
	k := f.role.kind()
	if k == ofGyro {
		s.gyro = true
	}
	if f.unit == "" {
		return true
	}
	if s.units[k] != "" && s.units[k] != f.unit {
		return false
	}
	s.units[k] = f.unit
	return true
}
