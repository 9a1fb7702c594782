"""Eight lanes in one register: a value type for kernels that numba would otherwise leave scalar.

Numba cannot know that the kernel's arrays do not overlap and so does not use vector instructions
for loops over lanes. ``load`` and ``store`` move a row of ``LANES`` doubles at once, and ``+``,
``-``, ``*`` and ``/`` act on whole rows (with a float: on all lanes). LLVM maps them to whatever
vector registers the processor has. Only kernels import this.
"""

import operator

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic, models, overload, register_model

LANES = 8
CONTRACT = ("contract",)
"""Multiply and add may fuse; nothing is reordered, so that results do not depend on threads."""


class RowType(types.Type):
    """Numba's type of one row of lanes."""

    def __init__(self):
        super().__init__(name=f"Row{LANES}")


ROW = RowType()
VECTOR = ir.VectorType(ir.DoubleType(), LANES)
CACHE_LINE = 8
"""Doubles. A row that lies across two lines takes longer to load, and much longer to store."""


def aligned(count):
    """Zeros that begin on a cache line. (count,) array."""
    longer = np.zeros(count + CACHE_LINE)
    first = -(longer.ctypes.data // longer.itemsize) % CACHE_LINE
    return longer[first : first + count]


@register_model(RowType)
class RowModel(models.PrimitiveModel):
    """A row is one LLVM vector of doubles."""

    def __init__(self, manager, kind):
        super().__init__(manager, kind, VECTOR)


def _pointer(context, builder, array_type, array, index):
    data = context.make_array(array_type)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [index]), VECTOR.as_pointer())


@intrinsic
def load(typing, numbers, index):
    """The row that begins at any index of a contiguous array of doubles."""

    def generate(context, builder, signature, arguments):
        pointer = _pointer(context, builder, signature.args[0], *arguments)
        return builder.load(pointer, align=8)

    return ROW(numbers, types.intp), generate


@intrinsic
def store(typing, numbers, index, row):
    """Write a row to any index of a contiguous array of doubles."""

    def generate(context, builder, signature, arguments):
        array, index, row = arguments
        pointer = _pointer(context, builder, signature.args[0], array, index)
        builder.store(row, pointer, align=8)
        return context.get_dummy_value()

    return types.void(numbers, types.intp, ROW), generate


@intrinsic
def splat(typing, number):
    """The same float in every lane."""

    def generate(context, builder, signature, arguments):
        zero = ir.Constant(ir.IntType(32), 0)
        undefined = ir.Constant(VECTOR, ir.Undefined)
        single = builder.insert_element(undefined, arguments[0], zero)
        mask = ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES)
        return builder.shuffle_vector(single, undefined, mask)

    return ROW(types.float64), generate


@intrinsic
def fused(typing, left, right, more):
    """``left * right + more`` of three rows, as one instruction where there is one.

    Says which product is to be fused: in a recurrence the one that the next step waits for.
    """

    def generate(context, builder, signature, arguments):
        kind = ir.FunctionType(VECTOR, [VECTOR] * 3)
        name = f"llvm.fmuladd.v{LANES}f64"
        return builder.call(cgutils.get_or_insert_function(builder.module, kind, name), arguments)

    return ROW(ROW, ROW, ROW), generate


def _rowwise(name):
    @intrinsic
    def act(typing, left, right):
        def generate(context, builder, signature, arguments):
            return getattr(builder, name)(*arguments, flags=CONTRACT)

        return ROW(ROW, ROW), generate

    return act


_add, _subtract, _multiply, _divide = map(_rowwise, ("fadd", "fsub", "fmul", "fdiv"))


def _bind(symbol, act):
    @overload(symbol)
    def bound(left, right):
        if left is ROW and right is ROW:
            return lambda left, right: act(left, right)
        if isinstance(left, types.Float) and right is ROW:
            return lambda left, right: act(splat(left), right)
        return None


_bind(operator.add, _add)
_bind(operator.sub, _subtract)
_bind(operator.mul, _multiply)
_bind(operator.truediv, _divide)
