// Package bigplant is an invented malt house that is large, runs day after day without end, and is quick to write down: the
// journal on which `grainward bench` measures. It makes 550 entries a day, so that 1,000,000 are five years and 3,000,000
// fifteen. The same seed gives the same journal, byte for byte, and a shorter one is the beginning of a longer one.
//
// Eight houses each malt ten tons a day: grain comes by truck through pit and conveyor into a silo, where loads mix; from there to a
// steep for two days, a germination floor for five, a kiln for one, the cleaner and the bagger; and bags go to customers who sign for
// them. The eighth house malts wheat every other week and is cleaned out between. Its 562 duties (29 tasks at 147 stations) are signed off by 64 people
// with readings that differ; now and then one is missed, done late, fails, is out of its limits or is corrected afterwards.
// A quarter of the entries is about goods; of the demo plant's it is 27 in a hundred.
//
// It is no story, as cmd/demoplant is: nothing depends on what happened weeks before, so each day is made from the seed and the
// date alone. It knows how an entry is written. It must not know how findings are judged, any database, or what time it is.
//
// # Reading order
//
//	plan.go   the written plan; plant.go  days in the order in which the journal takes them in
//	work.go   duties and their sign-offs; malt.go and sell.go  goods; desk.go  reviews, corrections, papers, troubles
//	more.go   single further entries, for measuring what one costs
package bigplant
