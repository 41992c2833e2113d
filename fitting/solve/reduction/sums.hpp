// The law's misfit to a stroke, with slopes, added up: over its segments, or row by row.
//
// The one place where the time of a fit without a clock goes, so it runs eight rows or nodes at a
// time in the widest instructions there are.
#pragma once

#include <cstddef>

#include "fitting/solve/evidence.hpp"
#include "fitting/solve/reduction/stroke_terms.hpp"

namespace fitting {

// Adds |r|^2, J^T r and the lower triangle of J^T J of a stroke's segments, r in newtons, J by
// columns. Without derivatives only |r|^2. Remainders are not added: no parameter moves them.
void add_segments(const StrokeTerms& terms, const ReducedStroke& stroke, int columns,
                  bool derivatives, NormalEquations& sums);

// The same of all rows of a stroke, none left out.
void add_rows(const StrokeTerms& terms, const double* travel_m, const double* force_N,
              std::size_t rows, int columns, NormalEquations& sums);

// Where a Jacobian's element (row, column) lies: at[row * row_step + column * column_step].
struct JacobianPlace {
  double* at = nullptr;  // null: none is wanted
  std::size_t row_step = 0;
  std::size_t column_step = 0;
};

// The rows themselves, simulated less measured, for solvers that want rows.
void store_rows(const StrokeTerms& terms, const double* travel_m, const double* force_N,
                std::size_t rows, int columns, double* residual_N, const JacobianPlace& jacobian);

// Force at one travel, with its slopes by the columns: the formula itself, for whoever checks it.
double force_at(const StrokeTerms& terms, double travel_m, int columns, double* slopes);

// "AVX-512", "AVX2" or "SSE2": what this processor runs the sums with.
const char* instruction_set();

}  // namespace fitting
