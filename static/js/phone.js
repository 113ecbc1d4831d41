// On every page of somebody who trains.
