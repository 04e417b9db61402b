package models

import "math/rand/v2"

// Folds of the cross-validation inside a training set.
const (
	mostFolds  = 6 // sessions are dealt out to at most so many
	blockFolds = 4 // of one session
)

// folds gives each example the number of the fold that holds it back, and says
// how they were made. Whole sessions are held back; with only one session, its
// strikes are dealt out, which flatters: strikes of one evening resemble each
// other. n is 0 where there is too little to hold back.
func folds(ex []Example, seed uint64) (of []int, n int, how string) {
	if len(ex) < leastToCalibrate {
		return nil, 0, "too few labels to hold any back"
	}
	of = make([]int, len(ex))
	var sessions []string // ex is sorted by session
	for _, e := range ex {
		if len(sessions) == 0 || sessions[len(sessions)-1] != e.Session {
			sessions = append(sessions, e.Session)
		}
	}
	if len(sessions) == 1 {
		for i, p := range rand.New(rand.NewPCG(seed, 1)).Perm(len(ex)) {
			of[p] = i % blockFolds
		}
		return of, blockFolds, "quarters of the one session held back in turn"
	}
	n = min(len(sessions), mostFolds)
	at := -1
	for i, e := range ex {
		if i == 0 || ex[i-1].Session != e.Session {
			at++
		}
		of[i] = at % n
	}
	return of, n, "whole sessions held back in turn"
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
