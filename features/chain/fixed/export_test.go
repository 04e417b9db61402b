package fixed

// Tables for the tests to compute anew.
func Turns() []int32 { return turns[:] }
func Logs() []int32  { return logs[:] }
func Tanhs() []int32 { return tanhs[:] }
