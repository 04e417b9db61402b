package rig

// Template returns a commented rig file to fill in.
func Template(name string) []byte { return nil }
