package ask

import (
	"fmt"
	"reflect"
	"testing"
)

func TestZZ(t *testing.T) {
	seen := map[reflect.Type]bool{}
	var walk func(path string, x reflect.Type)
	walk = func(path string, x reflect.Type) {
		if seen[x] {
			return
		}
		seen[x] = true
		switch x.Kind() {
		case reflect.Ptr:
			if k := x.Elem().Kind(); k != reflect.Struct {
				fmt.Println("POINTER", path, x)
			}
			walk(path, x.Elem())
		case reflect.Slice, reflect.Array:
			walk(path+"[]", x.Elem())
		case reflect.Map:
			walk(path+"{}", x.Elem())
			fmt.Println("map", path, x)
		case reflect.Interface, reflect.Func:
			fmt.Println("IFACE", path, x)
		case reflect.Struct:
			if x.PkgPath() == "time" {
				return
			}
			_, g := reflect.PointerTo(x).MethodByName("GobEncode")
			_, m := reflect.PointerTo(x).MethodByName("MarshalBinary")
			_, tx := reflect.PointerTo(x).MethodByName("MarshalText")
			if g || m || tx {
				fmt.Println("custom", path, x, g, m, tx)
				return
			}
			for i := range x.NumField() {
				f := x.Field(i)
				if !f.IsExported() && !f.Anonymous {
					fmt.Println("UNEXPORTED", path+"."+f.Name, f.Type)
					continue
				}
				walk(path+"."+f.Name, f.Type)
			}
		}
	}
	for _, v := range []any{shiftsAsked{}, planAsked{}, learnAsked{}, learnt{}, pieceAsked{}, hearAsked{}, hearing{}, orderAsked{}, HindsightQuestion{}, HindsightAnswer{}} {
		fmt.Printf("== %T\n", v)
		walk(fmt.Sprintf("%T", v), reflect.TypeOf(v))
	}
}
