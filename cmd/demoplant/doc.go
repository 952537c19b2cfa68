// Package demoplant is an invented certified-organic floor malt house and about eighteen months of its records.
//
// It simulates the plant: batches of grain move from steep to floor to kiln, a crew on a roster does what the plan on
// the wall asks for and signs it off with believable values, the office reviews and files, and now and then somebody
// makes an honest mistake. The same seed and the same last moment give the same records, byte for byte.
//
// It knows how a malt house's days go and how an entry is written. It must not know how findings are judged (package
// audit), any database, HTTP, or what the time is now: the last moment is handed to it, and everything is relative to
// it. The mistakes it makes are listed (Plant.Mistakes), each with the address of the findings expected to show it, so
// that a test can hold the judgement to them.
//
// # Reading order
//
//	plant.go     the plant as the caller sees it, and how its records are handed over; write.go fills a store with them
//	grain.go     batches from steep to kiln: what sets the pace of everything
//	duties.go    what the plan asks for on each day, and when somebody gets round to it
//	roster.go    who is there
//	signoff.go   one piece of work signed off; values.go has what instruments read
//	office.go    the lead's desk: reviews and excuses; papers.go files documents
//	slips.go     the mistakes with the work
//	goods.go     the plant's grain: the ledger and the clean-outs the plan wants between unlike goods
//	supply.go    which grain each batch is made of and when it comes in; receive.go takes it over
//	feed.go      pit and conveyor to the steeps, purges; house.go steep, floor, kiln
//	dryside.go   cleaning and bagging; mill.go grinding and blending; results.go bench and laboratory, holds; mixup.go
//	sell.go      to the fulfilment warehouse and the customers (customers.go); byproduct.go to the feed farm
//	counts.go    the monthly inventory; drills.go the recall drills
//
// Goods are simulated stream by stream (what goes over the conveyor, then each batch through the house, then the dry
// side in the order of its runs), each in the order of time, and sorted with everything else when they are written.
// Their mistakes stand beside what they spoil: each is made once, by the first of its kind after some day (goods.first).
package demoplant
