package study

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
	"github.com/spf13/viper"
)

// Runtime is how a run is carried out. Nothing here changes a number that the
// study gives, which is why it alone may come from the environment.
type Runtime struct {
	Workers int    // files and fits at work at once
	Cache   string // folder of the cache, relative to the study's folder; NoCache for none
	Colour  bool
}

// NoCache is the folder of the cache of whoever wants none.
const NoCache = "none"

// CacheFolder is where the cache of a study is; "" for none. Each study file of a
// folder has its own.
func (r Runtime) CacheFolder(s *Study) string {
	if r.Cache == NoCache {
		return ""
	}
	return filepath.Join(s.Path(r.Cache), strings.TrimSuffix(s.File, filepath.Ext(s.File)))
}

// mostWorkers bounds a typing error.
const mostWorkers = 4096

// The environment variables that LoadRuntime looks at, and the flags that
// outrank them.
const (
	WorkersVariable = "LENGTHWISE_WORKERS" // --workers
	CacheVariable   = "LENGTHWISE_CACHE"   // --cache
	ColourVariable  = "NO_COLOR"           // any text switches colour off; --colour outranks it
)

// LoadRuntime merges flag, environment variable and default, in this order of
// rank, setting by setting. A flag counts only when it was typed; flags that
// the set does not define are passed over, and flags may be nil. terminal is
// whether words go to a terminal: the default of Colour. An empty variable
// counts as not set.
func LoadRuntime(flags *pflag.FlagSet, terminal bool) (Runtime, error) {
	v := viper.New()
	v.SetDefault("workers", strconv.Itoa(runtime.GOMAXPROCS(0)))
	v.SetDefault("cache", PrivateFolder+"/cache")
	settings := []struct{ name, variable string }{
		{"workers", WorkersVariable}, {"cache", CacheVariable}, {"no_color", ColourVariable},
	}
	for _, one := range settings {
		if err := v.BindEnv(one.name, one.variable); err != nil {
			return Runtime{}, fmt.Errorf("reading %s: %w", one.variable, err)
		}
	}
	typed := func(name string) bool { return flags != nil && flags.Lookup(name) != nil && flags.Changed(name) }
	for _, name := range []string{"workers", "cache", "colour"} {
		if !typed(name) {
			continue
		}
		if err := v.BindPFlag(name, flags.Lookup(name)); err != nil {
			return Runtime{}, fmt.Errorf("reading --%s: %w", name, err)
		}
	}

	text := v.GetString("workers")
	workers, err := strconv.Atoi(text)
	if err != nil || workers < 1 || workers > mostWorkers {
		from := WorkersVariable
		if typed("workers") {
			from = "--workers"
		}
		return Runtime{}, fmt.Errorf("%s: %q is not a number of workers from 1 to %d", from, text, mostWorkers)
	}
	colour := terminal && v.GetString("no_color") == ""
	if typed("colour") {
		colour = v.GetBool("colour")
	}
	return Runtime{Workers: workers, Cache: v.GetString("cache"), Colour: colour}, nil
}
