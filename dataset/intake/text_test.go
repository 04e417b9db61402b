package intake

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
)

// rewrite passes each line of a log through a function.
func rewrite(log []byte, f func(i int, line string) string) []byte {
	var b strings.Builder
	for i, l := range strings.Split(strings.TrimSuffix(string(log), "\n"), "\n") {
		b.WriteString(f(i, strings.TrimSuffix(l, "\r")))
	}
	return []byte(b.String())
}

func TestColumnVariants(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1000, 77000, 4)
	plain := encode("counts-csv", sig)
	units := encode("units-csv", sig)
	swap := func(sep string, order ...int) func(int, string) string {
		return func(_ int, l string) string {
			c := strings.Split(l, ",")
			var out []string
			for _, k := range order {
				out = append(out, c[k])
			}
			return strings.Join(out, sep) + "\n"
		}
	}
	each := func(f func(l string) string) func(int, string) string {
		return func(_ int, l string) string { return f(l) + "\n" }
	}
	type variant struct {
		name, dialect string
		log           []byte
		options       Options
		notes         string
	}
	yes := true
	for _, c := range []variant{
		{"semicolon", "counts-csv", bytes.ReplaceAll(plain, []byte(","), []byte(";")), Options{}, ""},
		{"tab", "counts-csv", bytes.ReplaceAll(plain, []byte(","), []byte("\t")), Options{}, ""},
		{"space", "counts-csv", bytes.ReplaceAll(plain, []byte(","), []byte("  ")), Options{}, ""},
		{"comma and space", "counts-csv", bytes.ReplaceAll(plain, []byte(","), []byte(", ")), Options{}, ""},
		{"stated separator", "counts-csv", bytes.ReplaceAll(plain, []byte(","), []byte("|")), Options{Separator: '|'}, ""},
		{"CRLF and byte order mark", "counts-csv", append([]byte("\ufeff"), bytes.ReplaceAll(plain, []byte("\n"), []byte("\r\n"))...), Options{}, ""},
		{"no end of last line", "counts-csv", bytes.TrimSuffix(plain, []byte("\n")), Options{}, ""},
		{"other order", "counts-csv", rewrite(plain, swap(",", 4, 6, 5, 3, 1, 2, 0)), Options{}, ""},
		{"extra column", "counts-csv", rewrite(plain, func(i int, l string) string {
			if i == 0 {
				return "temp," + l + ",note\n"
			}
			return "21.5," + l + ",-\n"
		}), Options{}, "temp, note"},
		{"trailing separator", "counts-csv", rewrite(plain, each(func(l string) string { return l + "," })), Options{}, ""},
		{"comments", "counts-csv", append([]byte("# recorded on the bench\n// twice\n\n"), plain...), Options{}, ""},
		{"header as comment", "counts-csv", append([]byte("# "), plain...), Options{}, ""},
		{"quoted", "counts-csv", rewrite(plain, each(func(l string) string { return `"` + strings.ReplaceAll(l, ",", `","`) + `"` })), Options{}, ""},
		{"no header", "counts-csv", plain[bytes.IndexByte(plain, '\n')+1:], Options{}, "no header"},
		{"header again", "counts-csv", rewrite(plain, func(i int, l string) string {
			if i == 2500 {
				return "t_us,ax,ay,az,gx,gy,gz\n" + l + "\n"
			}
			return l + "\n"
		}), Options{}, ""},
		{"decimal comma", "units-csv", bytes.ReplaceAll(bytes.ReplaceAll(units, []byte(","), []byte(";")), []byte("."), []byte(",")), Options{}, ""},
		{"decimal comma stated", "units-csv", bytes.ReplaceAll(bytes.ReplaceAll(units, []byte(","), []byte("\t")), []byte("."), []byte(",")), Options{DecimalComma: &yes}, ""},
		{"only two gyroscope columns", "counts-csv", rewrite(plain, swap(",", 0, 1, 2, 3, 4, 5)), Options{}, "without a gyroscope"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := mustRead(t, c.log, rg, c.options)
			want := sig
			if strings.Contains(c.notes, "without") {
				want = withoutGyro(sig)
			}
			same(t, c.dialect, &res.Signal, *want, 1e5)
			if res.Session.Dialect != c.dialect || res.Session.DamagedRecords != 0 {
				t.Errorf("session %+v", res.Session)
			}
			if notes := strings.Join(res.Notes, "; "); !strings.Contains(notes, c.notes) || c.notes == "" && notes != "" {
				t.Errorf("notes %q, want %q", notes, c.notes)
			}
			reconcile(t, c.log, res)
		})
	}
}

// reconcile holds that every line of a text log is in the account.
func reconcile(t *testing.T, log []byte, res *Result) {
	t.Helper()
	lines := int64(bytes.Count(log, []byte{'\n'}))
	if len(log) > 0 && log[len(log)-1] != '\n' {
		lines++
	}
	s := res.Session
	if s.Records+s.DamagedRecords+s.OtherLines != lines || s.Records != s.Samples || s.Samples != int64(res.Signal.Len()) {
		t.Errorf("%d records, %d damaged, %d other lines of %d lines; %d samples", s.Records, s.DamagedRecords, s.OtherLines, lines, s.Samples)
	}
}

func TestUnits(t *testing.T) {
	sig := testSignal(5000, 1000, 77000, 4)
	rg := testRig(t, 1000)
	bare := *rg
	bare.Sensor.AccelLSBPerG, bare.Sensor.GyroLSBPerDPS = 0, 0
	log := func(header string, time, accel, gyro float64) []byte {
		var b bytes.Buffer
		b.WriteString(header + "\n")
		for i := range sig.Len() {
			fmt.Fprintf(&b, "%.6f", float64(sig.TRaw[i])/1e6*time)
			for k := range 3 {
				fmt.Fprintf(&b, ",%.5f", float64(sig.A[k][i])*accel)
			}
			for k := range 3 {
				fmt.Fprintf(&b, ",%.5f", float64(sig.G[k][i])*gyro)
			}
			b.WriteByte('\n')
		}
		return b.Bytes()
	}
	g := 1 / dataset.StandardGravity
	for _, c := range []struct {
		header            string
		time, accel, gyro float64
		options           Options
		guesses           int
	}{
		{"time_s,ax_m/s2,ay_m/s2,az_m/s2,gx_rad/s,gy_rad/s,gz_rad/s", 1, 1, 1, Options{}, 0},
		{"t_ms,ax_mg,ay_mg,az_mg,gx_dps,gy_dps,gz_dps", 1e3, 1000 * g, bearing.Deg(1), Options{}, 0},
		{"t_us,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps", 1e6, g, bearing.Deg(1), Options{}, 0},
		{"t,ax,ay,az,gx,gy,gz", 1e3, g, bearing.Deg(1), Options{}, 3},
		{"t,ax,ay,az,gx,gy,gz", 1, 1, 1, Options{GyroUnit: "rad/s"}, 2},
		{"t,ax,ay,az,gx,gy,gz", 1e6, 1000 * g, 1, Options{TimeUnit: "us", AccelUnit: "mg", GyroUnit: "rad/s"}, 0},
	} {
		res := mustRead(t, log(c.header, c.time, c.accel, c.gyro), &bare, c.options)
		for i := range sig.Len() {
			for k := range 3 {
				if d := sig.A[k][i] - res.Signal.A[k][i]; d > 1e-3 || d < -1e-3 {
					t.Fatalf("%s: sample %d axis %d reads %g, want %g", c.header, i, k, res.Signal.A[k][i], sig.A[k][i])
				}
				if d := sig.G[k][i] - res.Signal.G[k][i]; d > 1e-4 || d < -1e-4 {
					t.Fatalf("%s: sample %d axis %d turns at %g, want %g", c.header, i, k, res.Signal.G[k][i], sig.G[k][i])
				}
			}
		}
		if len(res.Guessed) != c.guesses {
			t.Errorf("%s: guessed %q, want %d guesses", c.header, res.Guessed, c.guesses)
		}
	}
	refused(t, log("t_s,ax_mg,ay_mg,az_mg,gx,gy,gz", 1, 1, 1), rg, Options{}, "not near 1 g", "--accel-unit m/s2")
	refused(t, log("t_ms,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps", 1, g, 1), rg, Options{}, "--time-unit s")
	refused(t, log("t_s,ax_g,ay_mg,az_g,gx_dps,gy_dps,gz_dps", 1, g, 1), rg, Options{}, "two units")
	refused(t, log("t_s,ax,ay,az,gx,gy,gz", 1, 0.3, 1), rg, Options{}, "none of the units", "--accel-unit", "accel_lsb_per_g")
	refused(t, encode("counts-csv", sig), &bare, Options{}, "accel_lsb_per_g")
	for _, c := range []struct {
		scale float64
		mark  bool
	}{{0.82, true}, {0.93, true}, {1, false}, {1.22, true}} {
		res := mustRead(t, log("t_s,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps", 1, c.scale*g, bearing.Deg(1)), rg, Options{})
		if marked := strings.Contains(strings.Join(res.Notes, "\n"), "bias or scale"); marked != c.mark {
			t.Errorf("a still reading of %.2f g: notes %q", c.scale, res.Notes)
		}
	}
	for _, scale := range []float64{0.5, 0.78, 1.3, 2} {
		refused(t, log("t_s,ax_g,ay_g,az_g,gx_dps,gy_dps,gz_dps", 1, scale*g, bearing.Deg(1)), rg, Options{}, "not near 1 g")
	}
	half := *rg
	half.Sensor.AccelLSBPerG = 4096
	refused(t, encode("jsonl", sig), &half, Options{}, "2048 would fit")
	refused(t, encode("jsonl", sig), rg, Options{AccelUnit: "furlongs"}, "furlongs", "counts, g, mg")
}

func TestConsoleDamage(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1000, 1234567, 4)
	log := encode("console", sig)
	bad := map[int]string{ // by line, from 0
		100: "t:1331 ax:-0.0", // cut
		200: "t:14\xff\xfe~#k3",
		300: "gx:1.2 gy:0.3 gz:5.0",                                     // the end of a line
		400: "t:1631 ax:0.012 ay:-017 az:1.000 gx:0.3 gy:0.3 gz:0.3",    // lost its point
		500: "t:1731 ax:0.012 ay:-0.017 az:1.000 gx:0.3 gx:0.3 gz:0.3",  // a key twice
		600: "t:1831 ax:0.012 ay:-0.017 az:99.000 gx:0.3 gy:0.3 gz:0.3", // beyond the range
		700: "t:1931 ax:nan ay:-0.017 az:1.000 gx:0.3 gy:0.3 gz:0.3",    // no number
		800: "t:2031 ax:0.010 ay:-0.017 az:1.000 gx:0.3 gy:0.3 gq:0.3",  // a wrong key
		900: "t:2131 ax:0.010 ay:-0.017 az:1.000",                       // no rotation rates
		950: strings.Repeat("x", 1<<20),                                 // long
	}
	other := map[int]string{1000: "W (2230) fifo watermark late", 1001: "", 1002: "*** boot", 1003: "----", 1004: "# remark"}
	log = rewrite(log, func(i int, l string) string {
		if s, ok := bad[i]; ok {
			return s + "\n"
		}
		if s, ok := other[i]; ok {
			return s + "\n" + l + "\n"
		}
		return l + "\n"
	})
	res := mustRead(t, log, rg, Options{})
	reconcile(t, log, res)
	s := res.Session
	if s.DamagedRecords != int64(len(bad)) || s.OtherLines != int64(len(other)+3) || s.LostSamples != int64(len(bad)) {
		t.Errorf("%d damaged, %d other, %d lost: %+v", s.DamagedRecords, s.OtherLines, s.LostSamples, s.Repairs)
	}
	all := fmt.Sprint(s.Repairs)
	for _, want := range []string{"line 101, byte ", "line longer than 64 KiB", "beyond the sensor's range", "decimals", "a key twice"} {
		if !strings.Contains(all, want) {
			t.Errorf("repairs lack %q: %s", want, all)
		}
	}
}

func TestJSONVariants(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(4000, 1000, 1234567, 4)
	scalars := rewrite(encode("counts-csv", sig), func(i int, l string) string {
		if i == 0 {
			return "{\"boot\":1,\"name\":\"caf\\u00e9 \\\"x\\\"\"}\n"
		}
		c := strings.Split(l, ",")
		return fmt.Sprintf(`{ "ax" : %s, "ay":%s,"az":%s, "t":%s ,"gx":%s,"gy":%s,"gz":%s,"n":%d, "ok":true }`+"\n", c[1], c[2], c[3], c[0], c[4], c[5], c[6], i)
	})
	res := mustRead(t, scalars, rg, Options{})
	same(t, "jsonl", &res.Signal, *sig, 1e4)
	reconcile(t, scalars, res)
	if res.Session.OtherLines != 1 || res.Session.DamagedRecords != 0 {
		t.Errorf("session %+v", res.Session)
	}
	lists := encode("jsonl", sig)
	bad := map[int]string{
		50: `{"t":1283567,"a":[1,2`, 60: `{"t":1293567,"a":[1,2,null],"g":[1,2,3]}`, 70: `{"t":1303567,"a":[1,2,3]}`,
		80: `{"t":"late","a":[1,2,3],"g":[1,2,3]}`, 90: `{"t":1323567,"t":1323567,"a":[1,2,3],"g":[1,2,3]}`, 95: `67,"a":[1,2,3],"g":[1,2,3]}`,
		97: `{"t":1330567,"a":[1,2,99999],"g":[1,2,3]}`, 99: `{"t":1332567,"a":[NaN,2,3],"g":[1,2,3]}`,
	}
	lists = rewrite(lists, func(i int, l string) string {
		if s, ok := bad[i]; ok {
			return s + "\n"
		}
		if i == 120 {
			l = `{"event":"late","t":5}` + "\n" + l
		}
		return l + "\n"
	})
	res = mustRead(t, lists, rg, Options{})
	reconcile(t, lists, res)
	if s := res.Session; s.DamagedRecords != int64(len(bad)) || s.OtherLines != 2 || s.LostSamples != int64(len(bad)) {
		t.Errorf("%d damaged, %d other, %d lost: %+v", s.DamagedRecords, s.OtherLines, s.LostSamples, s.Repairs)
	}
}

// What a banner names, such as the sensor's ranges, says nothing of the units
// of the records.
func TestJSONBannerUnits(t *testing.T) {
	rg := testRig(t, 1000)
	log := encode("jsonl", testSignal(8000, 1000, 5000, 3))
	half := len(log)/2 + bytes.IndexByte(log[len(log)/2:], '\n') + 1
	for _, banner := range []string{`{"boot":1,"gyro_dps":2000,"accel_g":16}`, `{"boot":1,"gyro_dps":2000}`, `{"boot":2,"millis":12}`} {
		for _, at := range []int{0, half} {
			b := slices.Concat(log[:at], []byte(banner+"\n"), log[at:])
			s := mustRead(t, b, rg, Options{}).Session
			if s.TimeUnit != "us" || s.AccelUnit != "counts" || s.GyroUnit != "counts" || s.Samples != 8000 {
				t.Errorf("%s at byte %d: %d samples, units %s, %s and %s, want 8000, us, counts and counts", banner, at, s.Samples, s.TimeUnit, s.AccelUnit, s.GyroUnit)
			}
		}
	}
}

// Records that name another unit than those before them cannot be read as if
// they did not.
func TestUnitsThatChange(t *testing.T) {
	rg := testRig(t, 1000)
	for d, want := range map[string]string{"jsonl": "counts", "console": "dps"} {
		lines := strings.SplitAfter(string(encode(d, testSignal(12000, 1000, 5000, 3))), "\n")
		for i := len(lines) - 1000; i < len(lines)-900; i++ {
			lines[i] = strings.NewReplacer("gx:", "gx_rads:", `"g":`, `"g_rads":`).Replace(lines[i])
		}
		log := []byte(strings.Join(lines, ""))
		res := mustRead(t, log, rg, Options{})
		reconcile(t, log, res)
		if s := res.Session; s.GyroUnit != want || s.DamagedRecords != 100 {
			t.Errorf("%s: %d damaged records, unit %s, want 100 and %s", d, s.DamagedRecords, s.GyroUnit, want)
		}
	}
}

func TestHostileLogs(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1003, 77000, 4)
	plain := encode("counts-csv", sig)
	constant := rewrite(plain, func(i int, l string) string {
		if i > 0 {
			l = "5" + l[strings.IndexByte(l, ','):]
		}
		return l + "\n"
	})
	broken := rewrite(plain, func(i int, l string) string {
		if i%3 == 1 {
			l = l[:len(l)/2]
		}
		return l + "\n"
	})
	dated := rewrite(plain, func(i int, l string) string {
		if i > 0 {
			l = "2026-11-20T19:03:02.5" + l[strings.IndexByte(l, ','):]
		}
		return l + "\n"
	})
	foreign := rewrite(plain, func(i int, l string) string {
		cells := strings.Split(l, ",")
		if i == 0 {
			return "Zeit,Dreh1,Dreh2,Dreh3,Kraft1,Kraft2,Kraft3\n"
		}
		return strings.Join(slices.Concat(cells[:1], cells[4:], cells[1:4]), ",") + "\n"
	})
	utf16 := []byte{0xff, 0xfe}
	for _, c := range plain {
		utf16 = append(utf16, c, 0)
	}
	for _, c := range []struct {
		name    string
		log     []byte
		options Options
		words   []string
	}{
		{"empty", nil, Options{}, []string{"empty"}},
		{"header only", []byte("t_us,ax,ay,az,gx,gy,gz\n"), Options{}, []string{"no records", "below its header line", "copy the log again"}},
		{"one sample", plain[:bytes.IndexByte(plain[30:], '\n')+31], Options{}, []string{"no two good records"}},
		{"prose", []byte("dear diary\ntoday I hit the bag\n"), Options{}, []string{"known dialect", "dear diary", "--dialect"}},
		{"binary", bytes.Repeat([]byte{0, 5, 22, 7, 0}, 1000), Options{}, []string{"binary", "[log.frame]"}},
		{"UTF-16", utf16, Options{}, []string{"UTF-16", "UTF-8"}},
		{"axis missing", bytes.Replace(plain, []byte("az"), []byte("mz"), 1), Options{}, []string{"ax, ay and az", "not understood: mz"}},
		{"nanoseconds named", bytes.Replace(plain, []byte("t_us"), []byte("t_ns"), 1), Options{}, []string{"lacks a time stamp", "not understood: t_ns", "as in t_us"}},
		{"dates", dated, Options{}, []string{"below its header line", "not a number", "2026-11-20T19:03:02", "numbers of us, ms or s"}},
		{"gyroscope first in foreign words", foreign, Options{}, []string{"at rest", `header "Zeit,Dreh1,Dreh2,Dreh3,Kraft1,Kraft2,Kraft3" is not understood`, "write these names there"}},
		{"objects in objects", []byte("{\"acc\":{\"x\":1}}\n"), Options{}, []string{"known dialect", `write objects such as {"t":1234`}},
		{"time stands still", constant, Options{}, []string{"do not advance"}},
		{"a third broken", broken, Options{}, []string{"33 %", "20 %", "too few columns", "line 2"}},
		{"unknown dialect", plain, Options{Dialect: "xml"}, []string{"xml", "counts-csv"}},
		{"wrong dialect", plain, Options{Dialect: "jsonl"}, []string{"cannot be read as jsonl"}},
		{"share out of bounds", plain, Options{MaxDamagedShare: 2}, []string{"between 0 and 1"}},
	} {
		t.Run(c.name, func(t *testing.T) { refused(t, c.log, rg, c.options, c.words...) })
	}
	res := mustRead(t, broken, rg, Options{MaxDamagedShare: 0.5})
	reconcile(t, broken, res)

	named := mustRead(t, append([]byte("Zeit,A,B,C,D,E,F\n"), plain[bytes.IndexByte(plain, '\n')+1:]...), rg, Options{})
	if named.Session.DamagedRecords > 0 || !strings.Contains(strings.Join(named.Notes, "\n"), `header "Zeit,A,B,C,D,E,F" is not understood: columns taken as t, ax`) {
		t.Errorf("foreign header: %d damaged, notes %q", named.Session.DamagedRecords, named.Notes)
	}

	slow := testRig(t, 400)
	refused(t, plain, slow, Options{}, "1003 Hz", "rate_hz 400", "bench-r1")
	nano := rewrite(plain, func(i int, l string) string {
		if i == 0 {
			return "t" + l[strings.IndexByte(l, ','):] + "\n"
		}
		return strings.Replace(l, ",", "000,", 1) + "\n"
	})
	refused(t, nano, rg, Options{}, "1.003 Hz with time in us", "count 1e+09 a second")
	tipped := *rg
	tipped.Sensor.Axes.X, tipped.Sensor.Axes.Y, tipped.Sensor.Axes.Z = "up", "90", "0"
	refused(t, plain, &tipped, Options{}, "z axis seems to point up")
	down := *rg
	down.Sensor.Axes.X, down.Sensor.Axes.Y, down.Sensor.Axes.Z = "90", "180", "down"
	refused(t, plain, &down, Options{}, "z axis seems to point up")
}

// TestEndlessLine holds that a very long line is read past, wherever it is.
func TestEndlessLine(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1000, 77000, 4)
	plain := encode("counts-csv", sig)
	long := append(bytes.Repeat([]byte("7"), 10<<20), '\n')
	middle := bytes.IndexByte(plain[len(plain)/2:], '\n') + len(plain)/2 + 1
	for name, log := range map[string][]byte{
		"first":  append(append([]byte(nil), long...), plain...),
		"middle": append(append(append([]byte(nil), plain[:middle]...), long...), plain[middle:]...),
		"last":   append(append([]byte(nil), plain...), long[:len(long)-1]...),
	} {
		res := mustRead(t, log, rg, Options{})
		reconcile(t, log, res)
		same(t, "counts-csv", &res.Signal, *sig, 1e4)
		if s := res.Session; s.DamagedRecords != 1 || len(s.Repairs) == 0 || s.Repairs[0].Kind != "damaged: "+tooLong {
			t.Errorf("%s: %d damaged, repairs %v", name, s.DamagedRecords, s.Repairs)
		}
	}
}

func TestGyroMismatch(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(4000, 1000, 77000, 4)
	res := mustRead(t, encode("counts-csv", withoutGyro(sig)), rg, Options{})
	if res.Signal.HasGyro() || res.Session.HasGyro || res.Session.GyroUnit != "" || len(res.Notes) != 1 {
		t.Errorf("gyroscope out of nowhere; notes %q", res.Notes)
	}
	none := *rg
	none.Sensor.GyroRangeDPS = 0
	res = mustRead(t, encode("units-csv", sig), &none, Options{})
	if !res.Signal.HasGyro() || len(res.Notes) != 1 {
		t.Errorf("gyroscope lost; notes %q", res.Notes)
	}
	none.Sensor.GyroLSBPerDPS = 0
	res = mustRead(t, encode("counts-csv", sig), &none, Options{})
	if res.Signal.HasGyro() || !strings.Contains(strings.Join(res.Notes, " "), "gyro_lsb_per_dps") {
		t.Errorf("rotation rates of unknown size kept; notes %q", res.Notes)
	}
	fast := *rg
	fast.Sensor.GyroLSBPerDPS, fast.Sensor.GyroRangeDPS = 0.01, 1e7
	res = mustRead(t, encode("counts-csv", sig), &fast, Options{})
	if !strings.Contains(strings.Join(res.Notes, " "), "right unit") {
		t.Errorf("spinning at rest; notes %q", res.Notes)
	}
}

// TestPlainLines holds that the short way through a line makes of it what the long
// way does, whatever the line.
func TestPlainLines(t *testing.T) {
	for _, header := range []string{"t_us,ax,ay,az,gx,gy,gz", "time_ms,ax_g,ay_g,az_g", "seq;time;ax;ay;az", "az t temp ax ay", "ax\tay\taz\tt"} {
		d := &csvDecoder{names: newNamer()}
		if ok, err := d.readHeader([]byte(header), Options{}); !ok {
			t.Fatal(header, err)
		}
		d.mark = '.'
		const next = "\n1234567" // what follows a line in the buffer
		if good := strings.Repeat("12"+string(d.separator), len(d.roles)-1) + "12"; d.separator != ' ' && d.plain([]byte(good+next), &row{}) != len(good) {
			t.Errorf("%s: %q is not read the short way", header, good)
		}
		for _, mark := range []byte{'.', ','} {
			d.mark = mark
			cell := rapid.OneOf(rapid.StringMatching(`-?[0-9]{1,16}`), rapid.StringMatching(`[0-9]{1,5}`), rapid.StringMatching(`-?[0-9]{1,3}[.][0-9]{1,6}`), rapid.StringMatching(`-?[0-9]{0,9}[.,][0-9]{0,9}`), rapid.StringMatching(`[-+ 0-9."e,;x]{0,5}`))
			rapid.Check(t, func(t *rapid.T) {
				cells := rapid.SliceOfN(cell, len(d.roles)-1, len(d.roles)).Draw(t, "cells")
				text := []byte(strings.Join(cells, string(d.separator)))
				x := row{whole: 7, micro: 8, v: [6]float64{1, 2, 3, 4, 5, 6}, decimals: 99, has: 1}
				if n := d.plain(append(text, next...), &x); n != len(text) {
					return
				}
				var want row
				if v := classify(text, &want, d); v.what != isSample {
					t.Fatalf("%q is %v, yet was read the short way", text, v)
				}
				for k := range 3 {
					if want.has&hasGyro == 0 {
						x.v[3+k] = 0
					}
				}
				if x != want {
					t.Fatalf("%q is %+v the short way, %+v the long way", text, x, want)
				}
			})
		}
	}
}

// slowly is a line decoder without its short way.
type slowly struct{ lineDecoder }

// TestPlainLinesInALog holds that lines read the short way are counted and placed as
// those read the long way, among others, at the edges of what was read ahead, and at
// the end of the log.
func TestPlainLinesInALog(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 7))
	lines := []string{"%d,1,-2,2048,0.5,6,7\n", "%d,1,-2,2048,0.5,6,7\r\n", "%d,1,-2, 2048,,,\n", "%d,1\n", "\n", "\r\n", "# %d\n", "%d,1,2,3,4,5,6\r\r\n", "boot %d\n"}
	for _, end := range []string{"", "9,1,2,3,4,5,6", "9,1,2,3,4,5,6\r", "9,1,2,"} {
		var log bytes.Buffer
		for i := 0; log.Len() < bufBytes+1000; i++ {
			line := lines[0]
			if rng.IntN(20) == 0 {
				line = lines[rng.IntN(len(lines))]
			}
			if strings.Contains(line, "%d") {
				line = fmt.Sprintf(line, 1000*i)
			}
			log.WriteString(line)
		}
		fmt.Fprintf(&log, "1,%s1,2,3,4,5\n%s", strings.Repeat("0", maxLine), end)
		read := func(in io.Reader, short bool) *recorder {
			d := &csvDecoder{names: newNamer()}
			if ok, err := d.readHeader([]byte("t_us,ax,ay,az,gx,gy,gz"), Options{}); !ok {
				t.Fatal(err)
			}
			d.mark = '.'
			s, err := openSource(t.Context(), in, nil)
			if err != nil {
				t.Fatal(err)
			}
			r := &recorder{rec: &Records{}}
			var lines lineDecoder = d
			if !short {
				lines = slowly{d}
			}
			if err := decodeLines(t.Context(), s, r, lines); err != nil {
				t.Fatal(err)
			}
			return r
		}
		want := read(bytes.NewReader(log.Bytes()), false)
		for name, in := range map[string]io.Reader{"whole": bytes.NewReader(log.Bytes()), "in halves": iotest.HalfReader(bytes.NewReader(log.Bytes())), "byte by byte": iotest.OneByteReader(bytes.NewReader(log.Bytes()))} {
			got := read(in, true)
			if diff := cmp.Diff(want.Account, got.Account); diff != "" {
				t.Errorf("end %q, read %s: account (-the long way +the short way):\n%s", end, name, diff)
			}
			if fmt.Sprint(got.rec) != fmt.Sprint(want.rec) {
				t.Errorf("end %q, read %s: other records than the long way", end, name)
			}
		}
	}
}
