#include <cminpack.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <cmath>

#include "tests/benchmarks/peers/rows.hpp"

namespace peers {
namespace {

constexpr double kCostChange = 1e-10;
constexpr int kMostSteps = 200;

int gsl_residuals(const gsl_vector* x, void* rows, gsl_vector* f) {
  const bool exists = static_cast<Rows*>(rows)->evaluate(x->data, f->data, {});
  return exists ? GSL_SUCCESS : GSL_EDOM;
}

int gsl_jacobian(const gsl_vector* x, void* rows, gsl_matrix* j) {
  static thread_local std::vector<double> unused;
  unused.resize(j->size1);
  const bool exists =
      static_cast<Rows*>(rows)->evaluate(x->data, unused.data(), {j->data, j->tda, 1});
  return exists ? GSL_SUCCESS : GSL_EDOM;
}

int minpack(void* rows, int, int, const double* x, double* f, double* j, int stride, int flag) {
  static thread_local std::vector<double> unused;
  Rows& all = *static_cast<Rows*>(rows);
  if (flag == 1) return all.evaluate(x, f, {}) ? 0 : -1;
  unused.resize(all.size());
  return all.evaluate(x, unused.data(), {j, 1, static_cast<std::size_t>(stride)}) ? 0 : -1;
}

}  // namespace

Outcome fit_gsl(Rows& rows) {
  constexpr std::size_t kColumns = 6;
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  parameters.trs = gsl_multifit_nlinear_trs_lm;
  parameters.solver = gsl_multifit_nlinear_solver_cholesky;
  parameters.scale = gsl_multifit_nlinear_scale_more;
  gsl_multifit_nlinear_fdf problem{};
  problem.f = gsl_residuals;
  problem.df = gsl_jacobian;
  problem.n = rows.size();
  problem.p = kColumns;
  problem.params = &rows;
  gsl_multifit_nlinear_workspace* work =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, rows.size(), kColumns);
  const gsl_vector_const_view start = gsl_vector_const_view_array(rows.start(), kColumns);
  gsl_multifit_nlinear_init(&start.vector, &problem, work);
  double before = 0.0;
  gsl_blas_ddot(work->f, work->f, &before);
  for (int step = 0; step < kMostSteps; ++step) {
    if (gsl_multifit_nlinear_iterate(work) != GSL_SUCCESS) break;
    double now = 0.0;
    gsl_blas_ddot(work->f, work->f, &now);
    const bool stop = std::abs(before - now) <= kCostChange * before;
    before = now;
    if (stop) break;
  }
  Outcome out;
  out.values.assign(work->x->data, work->x->data + kColumns);
  out.evaluations = static_cast<int>(problem.nevalf);
  gsl_multifit_nlinear_free(work);
  return out;
}

Outcome fit_cminpack(Rows& rows) {
  constexpr int kColumns = 6;
  const int size = static_cast<int>(rows.size());
  std::vector<double> f(rows.size());
  std::vector<double> j(rows.size() * kColumns);
  std::vector<double> work(rows.size());
  double scale[kColumns], qtf[kColumns], wa1[kColumns], wa2[kColumns], wa3[kColumns];
  int pivot[kColumns];
  Outcome out;
  out.values.assign(rows.start(), rows.start() + kColumns);
  int jacobians = 0;
  lmder(minpack, &rows, size, kColumns, out.values.data(), f.data(), j.data(), size, kCostChange,
        1e-14, 0.0, 400, scale, 1, 100.0, 0, &out.evaluations, &jacobians, pivot, qtf, wa1, wa2,
        wa3, work.data());
  return out;
}

}  // namespace peers
