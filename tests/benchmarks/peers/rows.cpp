#include "tests/benchmarks/peers/rows.hpp"

namespace peers {

using namespace fitting;

Rows::Rows(const speed::DataSet& set) : set_(set), rows_(set.rows()) {
  for (const quasi_static::Sweep& sweep : set.sweeps) {
    Reduction strokes(sweep.model.geometry);
    for (const quasi_static::Rows& rows : sweep.strokes) {
      strokes.begin_stroke(rows.stroke.direction, rows.stroke.from_m);
      strokes.end_stroke(rows.stroke.to_m);
    }
    strokes_.push_back(std::move(strokes));
  }
  for (const FreeParameter& free : set.map.free) by_.push_back(free.index);
}

bool Rows::evaluate(const double* values, double* residual_N, const JacobianPlace& jacobian) {
  const auto columns = static_cast<int>(by_.size());
  const Eigen::VectorXd at = Eigen::Map<const Eigen::VectorXd>(values, columns);
  std::size_t row = 0;
  for (std::size_t s = 0; s < set_.sweeps.size(); ++s) {
    LawParameters<double> law = set_.map.law(at, static_cast<int>(s));
    std::vector<StrokeTerms> terms = make_stroke_terms(set_.sweeps[s].model, law, by_, strokes_[s]);
    if (terms.empty()) return false;
    for (std::size_t k = 0; k < terms.size(); ++k) {
      // By the solver's numbers, which are shares of the centre.
      for (int term = 0; term < kTerms; ++term) {
        for (int c = 0; c < columns; ++c) {
          terms[k].slope[term][c] *= set_.map.free[static_cast<std::size_t>(c)].unit_SI;
        }
      }
      const quasi_static::Rows& stroke = set_.sweeps[s].strokes[k];
      JacobianPlace place = jacobian;
      if (place.at != nullptr) place.at += row * place.row_step;
      store_rows(terms[k], stroke.travel_m.data(), stroke.force_N.data(), stroke.travel_m.size(),
                 columns, residual_N + row, place);
      row += stroke.travel_m.size();
    }
  }
  return true;
}

}  // namespace peers
