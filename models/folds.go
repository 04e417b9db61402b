package models

import (
	"math/rand/v2"
	"slices"
)

// Folds of the cross-validation inside a training set.
const (
	mostFolds  = 6 // sessions are dealt out to at most so many
	blockFolds = 4 // of one session
)

// folds gives each example the number of the fold that holds it back, and says
// how they were made. Whole sessions are held back; with only one session, its
// strikes are dealt out, which flatters: strikes of one evening resemble each
// other. The only session of a rig revision beside those of others is dealt out
// in halves: held back whole, it would be answered by what has not seen its
// revision, as the detector in use has. n is 0 where there is too little to hold
// back.
func folds(ex []Example, seed uint64) (of []int, n int, how string) {
	if len(ex) < leastToCalibrate {
		return nil, 0, "too few labels to hold any back"
	}
	of = make([]int, len(ex))
	var parts [][]int                 // that are held back together
	sessions := map[string][]string{} // of each revision
	for i, e := range ex {            // sorted by session
		if i == 0 || ex[i-1].Session != e.Session {
			parts = append(parts, nil)
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], i)
		if key := e.Rig.Key(); !slices.Contains(sessions[key], e.Session) {
			sessions[key] = append(sessions[key], e.Session)
		}
	}
	shuffled := rand.New(rand.NewPCG(seed, 1))
	if len(parts) == 1 {
		for i, p := range shuffled.Perm(len(ex)) {
			of[p] = i % blockFolds
		}
		return of, blockFolds, "quarters of the one session held back in turn"
	}
	how = "whole sessions held back in turn"
	for at, part := range parts[:len(parts):len(parts)] {
		if len(part) < leastToCalibrate || len(sessions[ex[part[0]].Rig.Key()]) > 1 {
			continue
		}
		shuffled.Shuffle(len(part), func(i, j int) { part[i], part[j] = part[j], part[i] })
		parts[at] = part[:len(part)/2]
		parts = append(parts, part[len(part)/2:])
		how = "whole sessions held back in turn, by halves where a rig has but one"
	}
	n = min(len(parts), mostFolds)
	for at, part := range parts {
		for _, i := range part {
			of[i] = at % n
		}
	}
	return of, n, how
}

// split parts the examples by fold.
func split(ex []Example, of []int, fold int) (train, held []Example) {
	for i, e := range ex {
		if of[i] == fold {
			held = append(held, e)
		} else {
			train = append(train, e)
		}
	}
	return train, held
}
