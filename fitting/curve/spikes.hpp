// Lone outliers of the force: a row or a few that jump off the curve and back, as a loose plug or a
// knocked bench makes them.
//
// A row is one when it lies off what came before and off what comes after, on the same side, by far
// more than the noise and than the curve moves in between. Turning points and steps, which leave
// one side and stay, are none.
#pragma once

#include <cstddef>
#include <vector>

#include "protocol/record/sweep_record.hpp"

namespace fitting {

// At most so many rows in a row are spikes; a longer burst is a fact to be explained.
inline constexpr int kSpikeRows = 3;

// Their rows, ascending.
std::vector<std::size_t> find_spikes(const std::vector<double>& force_N);

// The record without these rows (ascending); its metadata stay.
protocol::SweepRecord without_rows(const protocol::SweepRecord& record,
                                   const std::vector<std::size_t>& rows);

}  // namespace fitting
