package main
import ("testing";"context";"io";"os";"greige/analyze/scene";"greige/colorspace")
func BenchmarkZZ(b *testing.B){
 path:="/tmp/zz/twelve.jpg"
 if _,err:=os.Stat(path);err!=nil{
	cloth := scene.NewCloth("leaves on rust", scene.Sprigs, colorspace.Lab{L: 45, A: 32, B: 30},
		scene.Ink{Lab: colorspace.Lab{L: 85, A: 2, B: 14}, Share: .2})
	shot, _ := scene.Closeup{
		Take:  scene.Take{Width: 4032, Height: 3024, Camera: scene.Phone(), Light: scene.Light{Lamp: scene.Window, Ratio: 1.3}, Seed: 12},
		Cloth: cloth,
	}.Shoot(); shot.Name="twelve.jpg"; scene.Write("/tmp/zz",shot)
 }
 for b.Loop(){ run(context.Background(), []string{"sort","--scraps","one","--quiet",path,"--out","/tmp/zz/p.html","--json","/tmp/zz/f.json"}, io.Discard, io.Discard) }
}
