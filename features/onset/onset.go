// Package onset finds strikes in a stream of accelerometer samples.
//
// One causal finder serves every use: it despikes, watches second differences
// of short means, collects an event, mends it, places its onset and decides
// whether it was a strike. It needs no gyroscope and no look at the future
// beyond a fixed look-ahead. It refuses rates at which a contact is too short
// to be told from a blip. It sits below features/chain, which feeds it samples
// in the bag's frame and cuts the windows.
package onset

// Config says what the finder has to know of the sensor and the bag.
type Config struct {
	RateHz    float64 // nominal sample rate
	ClipMPS2  float64 // limit of one accelerometer axis
	NoiseMPS2 float64 // noise of one axis; 0: measured causally
	MassKg    float64 // mass of the bag
}
