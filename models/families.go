package models

// Families lists every family of detectors, rules first.
func Families() []Family { return nil }

// FamilyByName finds a family.
func FamilyByName(name string) (Family, bool) {
	for _, f := range Families() {
		if f.Name == name {
			return f, true
		}
	}
	return Family{}, false
}
