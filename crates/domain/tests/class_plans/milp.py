"""The fewest rotations of 200 random classes, found by scipy's milp (HiGHS): the independent solver.

    pip install scipy==1.17.1
    python crates/domain/tests/class_plans/milp.py > crates/domain/tests/class_plans/classes.json

Nothing of the product's way is in here. Time is laid out in full: a binary variable says that a work is
done with a club, as loaded, in a rotation, and milp is asked for w = 1, 2, ... rotations until one
assignment exists. The same again with one more of each club of the gym.
"""

import json
import random
import sys

import numpy
import scipy
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix

SEED = 20261130
CLASSES = 200


def random_class(rng):
    athletes = rng.choice([rng.randint(1, 8), rng.randint(5, 20), rng.randint(20, 40)])
    clubs = rng.randint(1, 12)
    # Count, owner (none: the gym's), loadings.
    stock = [[rng.choice([1, 1, 1, 2, 2, 3, 4, 6]), None, 1] for _ in range(clubs)]
    for club in stock:
        if rng.random() < 0.25:
            club[0], club[2] = rng.choice([1, 1, 2]), rng.randint(2, 4)
    most_works = rng.choice([1, 1, 2, 3])
    most_choices = rng.choice([1, 1, 1, 2, 3])
    favour = rng.random() < 0.4

    def a_club():
        at = rng.randrange(clubs)
        return min(at, rng.randrange(clubs)) if favour else at

    def as_loaded(club):
        return [club, rng.randrange(stock[club][2])]

    needs = []
    for athlete in range(athletes):
        own = None
        if rng.random() < 0.15:
            stock.append([1, athlete, rng.choice([1, 1, 2])])
            own = len(stock) - 1
        works = []
        for _ in range(rng.randint(1, most_works)):
            if own is not None and rng.random() < 0.6:
                works.append([as_loaded(own)])
            else:
                choices = sorted({a_club() for _ in range(rng.randint(1, most_choices))})
                works.append([as_loaded(club) for club in choices])
        needs.append(works)
    at_once = rng.choice([None, None, rng.randint(1, max(1, athletes)), rng.randint(3, 12)])
    return {"at_once": at_once, "stock": stock, "athletes": needs}


def exists(a_class, rotations, one_more=None):
    """Whether everybody's works fit into so many rotations."""
    column, columns = {}, 0
    for athlete, works in enumerate(a_class["athletes"]):
        for work, choices in enumerate(works):
            for choice in range(len(choices)):
                for rotation in range(rotations):
                    column[athlete, work, choice, rotation] = columns
                    columns += 1
    done, athlete_once, club_once, room = {}, {}, {}, {}
    for (athlete, work, choice, rotation), at in column.items():
        club = a_class["athletes"][athlete][work][choice][0]
        done.setdefault((athlete, work), []).append(at)
        athlete_once.setdefault((athlete, rotation), []).append(at)
        club_once.setdefault((club, rotation), []).append(at)
        room.setdefault(rotation, []).append(at)
    rows, low, high = [], [], []

    def constrain(columns_of, least, most):
        rows.append(columns_of)
        low.append(least)
        high.append(most)

    for of in done.values():
        constrain(of, 1, 1)
    for of in athlete_once.values():
        constrain(of, 0, 1)
    for (club, _), of in club_once.items():
        constrain(of, 0, a_class["stock"][club][0] + (club == one_more))
    if a_class["at_once"] is not None:
        for of in room.values():
            constrain(of, 0, a_class["at_once"])
    at_row = numpy.repeat(range(len(rows)), [len(row) for row in rows])
    at_column = numpy.concatenate(rows)
    matrix = coo_matrix((numpy.ones(len(at_row)), (at_row, at_column)), (len(rows), columns))
    found = milp(
        numpy.zeros(columns),
        integrality=numpy.ones(columns),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix.tocsr(), low, high),
    )
    if found.status not in (0, 2):
        raise RuntimeError(found.message)
    return found.status == 0


def fewest(a_class, one_more=None):
    rotations = 1
    while not exists(a_class, rotations, one_more):
        rotations += 1
    return rotations


def main():
    rng = random.Random(SEED)
    classes = []
    for number in range(CLASSES):
        a_class = random_class(rng)
        a_class["rotations"] = fewest(a_class)
        a_class["with_one_more"] = [
            None if owner is not None else fewest(a_class, club)
            for club, (_, owner, _) in enumerate(a_class["stock"])
        ]
        classes.append(a_class)
        print(number, a_class["rotations"], file=sys.stderr, flush=True)
    source = f"scipy {scipy.__version__}, milp (HiGHS), seed {SEED}"
    print('{"source": ' + json.dumps(source) + ', "classes": [')
    print(",\n".join(json.dumps(a_class, separators=(",", ":")) for a_class in classes))
    print("]}")


if __name__ == "__main__":
    main()
