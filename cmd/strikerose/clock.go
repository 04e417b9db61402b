package main

import (
	"fmt"
	"strconv"
	"time"
)

// epochVariable is the variable by which programs agree on a time that makes
// their output the same whenever it is made: seconds since 1970.
const epochVariable = "SOURCE_DATE_EPOCH"

// labelTime is the time that labels made now bear, the only thing in a corpus
// that does not come from what is put into it.
func (a *app) labelTime() (time.Time, error) {
	text := a.getenv(epochVariable)
	if text == "" {
		return a.now().UTC(), nil
	}
	s, err := strconv.ParseUint(text, 10, 40)
	if err != nil {
		return time.Time{}, fmt.Errorf("%s=%q: is no whole number of seconds since 1970: unset it, or write one", epochVariable, text)
	}
	return time.Unix(int64(s), 0).UTC(), nil
}
