// Whether a path through travel and force can be a compression of this fork at all. Part of
// csv_import.hpp.
#pragma once

#include <span>
#include <string>

#include "protocol/record/csv_columns.hpp"
#include "protocol/record/csv_import.hpp"

namespace protocol {

// Fewer rows than this cannot show a loop.
inline constexpr size_t kLoopSamplesMin = 20;
// A digitised one-way curve may have fewer.
inline constexpr size_t kSingleStrokeSamplesMin = 8;

// How often travel turns back by more than `margin_m`; smaller wiggles are noise.
int count_reversals(std::span<const double> travel_m, double margin_m);

// Adds remarks to `rows`. ERRORS: record_unusable, input_out_of_range, all naming the columns.
Result<void> check_path(ImportedRows& rows, const std::string& name, const ImportColumns& columns,
                        bool single_stroke, const Fork& fork);

}  // namespace protocol
