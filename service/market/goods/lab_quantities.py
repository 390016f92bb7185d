"""The quantities that a laboratory measures, one row each.

`LabReport` and `Figures` hold one field for each row, and the table of reports one column. All else follows from
the rows: schemas, columns of files, printed lines, units, and what is compared with a cultivar's published range.
"""

from service.facts import Fact


class LabQuantity(Fact, frozen=True, kw_only=True):
    """One quantity: its name with the unit last, and how it is read, bounded and printed.

    `group` names its methods. `basis` says what the figure refers to: `sample` (as is or dry, as the report says),
    `alpha` (a share of the alpha acids), `wet` (the sample as it was) or `none` (a ratio).
    `body_max` is the largest figure that a body may hold. It is wide where a misplaced decimal point deserves a
    better answer than a range. `answer_max` is the largest figure that an accepted report can hold.
    A quantity that is not `is_always_printed` is printed, and enters the fingerprint of a sheet, only if measured.
    """

    name: str
    group: str
    label: str
    unit: str
    printed_unit: str
    basis: str
    body_max: float = 1000
    answer_max: float = 100
    is_above_zero: bool = False
    is_compared: bool = False
    is_always_printed: bool = True


# In the order in which a receiver checks them.
LAB_QUANTITIES = (
    LabQuantity(
        name="moisture_percent",
        group="moisture",
        label="Moisture",
        unit="%",
        printed_unit="% by weight",
        basis="wet",
        body_max=100,
    ),
    LabQuantity(
        name="alpha_percent",
        group="alpha_beta",
        label="Alpha acids",
        unit="%",
        printed_unit="% by weight",
        basis="sample",
        is_compared=True,
    ),
    LabQuantity(
        name="beta_percent",
        group="alpha_beta",
        label="Beta acids",
        unit="%",
        printed_unit="% by weight",
        basis="sample",
        is_compared=True,
    ),
    LabQuantity(
        name="cohumulone_percent_of_alpha",
        group="cohumulone",
        label="Cohumulone",
        unit="% of alpha",
        printed_unit="% of alpha",
        basis="alpha",
        is_compared=True,
    ),
    LabQuantity(
        name="hop_storage_index",
        group="hop_storage_index",
        label="Hop Storage Index",
        unit="A275/A325",
        printed_unit="A275/A325",
        basis="none",
        # At an index of 2.03 the published formula has lost all acids: 0.25 x 10^(100/110).
        answer_max=2.03,
        is_above_zero=True,
    ),
    LabQuantity(
        name="oil_ml_per_100g",
        group="oil",
        label="Total oil",
        unit="mL/100 g",
        printed_unit="mL/100 g",
        basis="sample",
        body_max=20,
        answer_max=20,
        is_compared=True,
    ),
)
QUANTITY_OF = {quantity.name: quantity for quantity in LAB_QUANTITIES}
LAB_NAMES = tuple(QUANTITY_OF)
