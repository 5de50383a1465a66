#include "sim/tissue/tip_detail.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include <glm/common.hpp>

#include "sim/core/errors.hpp"

namespace sim::fe {

namespace {

constexpr int kPerColumn = 3 * kCellsDeep;
constexpr int kPatchLines = 7;  ///< of the mesh, beyond the cell: where lines lie close a patch is smaller
constexpr int kFieldLines = kPatchLines + 1;  ///< about a node: so much any patch reads that the node belongs to
constexpr double kFadeM = 8.0 * kMm;          ///< from a patch's rim, where it has only what the mesh has; by eye

/// The columns within so many lines of a cell or a node.
PatchLines lines_about(const Chart& chart, int column, int before, int after) {
    const int i = column % chart.wide, j = column / chart.wide;
    return {std::max(i - before, 0), std::max(j - before, 0), std::min(i + after, chart.wide - 1),
            std::min(j + after, chart.high - 1)};
}

ChartPlace fine_place(const Chart& fine, int node) {
    return {fine.s_m[static_cast<std::size_t>(node % fine.wide)], fine.t_m[static_cast<std::size_t>(node / fine.wide)],
            static_cast<double>(kCellsDeep)};
}

/// Columns of forces at the nine places of a cell: along x, y, z of each.
Eigen::MatrixXd unit_loads(const HexMesh& fine, int first_i, int first_j, int level) {
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(fine.cells.unknowns(), 3 * TipDetail::kPlaces);
    for (int k = 0; k < TipDetail::kPlaces; ++k) {
        ChartPlace place = fine_place(fine.chart, (first_j + k / 3) * fine.chart.wide + first_i + k % 3);
        place.level = level;
        for (const auto& [node, weight] : patch_at(fine, place).weight)
            for (int r = 0; r < 3; ++r) out(3 * node + r, 3 * k + r) = weight;
    }
    return out;
}

/// Nine places by the four corners of a cell, as blocks are mixed for them.
Eigen::MatrixXd corner_shares() {
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(12, 3 * TipDetail::kPlaces);
    for (int k = 0; k < TipDetail::kPlaces; ++k)
        for (int corner = 0; corner < 4; ++corner) {
            const double a = 0.5 * (k % 3), b = 0.5 * (k / 3);
            const double share = (corner % 2 == 1 ? a : 1.0 - a) * (corner / 2 == 1 ? b : 1.0 - b);
            out.block<3, 3>(3 * corner, 3 * k) = share * Eigen::Matrix3d::Identity();
        }
    return out;
}

/// Of a parabola through both ends of a cell and its middle. What goes straight along the cell, as blocks are mixed,
/// stays as it is.
std::array<double, 3> shares_of_three(double x) {
    return {(1.0 - 2.0 * x) * (1.0 - x), 4.0 * x * (1.0 - x), x * (2.0 * x - 1.0)};
}

std::vector<TipNode> corners_of(const Chart& chart, const TipNode& cell) {
    return {{cell.column, cell.level},
            {cell.column + 1, cell.level},
            {cell.column + chart.wide, cell.level},
            {cell.column + chart.wide + 1, cell.level}};
}

}  // namespace

/// A patch about a cell, and how the drawn skin reads its nodes and the mesh's.
struct TipDetailSolver::Patch {
    int cell;
    TipPatch patch;
    Eigen::SparseMatrix<double, Eigen::RowMajor> read_fine, read_mesh;  ///< from skin nodes to the patch's own, faded

    Patch(const HexMesh& mesh, const LayeredBody& body, int about, const PatchLines& lines)
        : cell(about), patch(mesh, body, lines) {
        const HexMesh& fine = patch.mesh();
        std::vector<Eigen::Triplet<double>> of_fine, of_mesh;
        for (int node = 0; node < fine.columns(); ++node) {
            const ChartPlace place = fine_place(fine.chart, node);
            const double share = glm::smoothstep(0.0, kFadeM, patch.to_rim_m(place));
            if (!(share > 0.0)) continue;
            for (const auto& [from, weight] : patch_at(fine, place).weight)
                of_fine.emplace_back(node, from / kCellsDeep, share * weight);
            for (const auto& [from, weight] : patch_at(mesh, place).weight)
                of_mesh.emplace_back(node, from / kCellsDeep, share * weight);
        }
        read_fine.resize(fine.columns(), fine.columns());
        read_fine.setFromTriplets(of_fine.begin(), of_fine.end());
        read_mesh.resize(fine.columns(), mesh.columns());
        read_mesh.setFromTriplets(of_mesh.begin(), of_mesh.end());
    }
};

namespace {

/// One axis of what the skin does, a row a column of the mesh.
Eigen::MatrixXd skin_axis(const HexMesh& mesh, const Eigen::MatrixXd& moved_m, int axis) {
    Eigen::MatrixXd out(mesh.columns(), moved_m.cols());
    for (int c = 0; c < mesh.columns(); ++c) out.row(c) = moved_m.row(3 * mesh.free_node(c, kCellsDeep) + axis);
    return out;
}

}  // namespace

TipDetailSolver::TipDetailSolver(const HexMesh& mesh, const LayeredBody& body, Response& response)
    : mesh_(mesh), body_(body), response_(response) {}

std::vector<TipBlock> TipDetailSolver::blocks(std::span<const TipNode> nodes) {
    return solve_tip_blocks(
        mesh_, response_, nodes,
        [this](const TipNode& node, const Eigen::Ref<const Eigen::MatrixXd>& moved_m) { remember(node, moved_m); });
}

void TipDetailSolver::remember(const TipNode& node, const Eigen::Ref<const Eigen::MatrixXd>& moved_m) {
    const PatchLines lines = lines_about(mesh_.chart, node.column, kFieldLines, kFieldLines);
    std::erase_if(fields_, [&](const Field& field) { return field.node == node; });
    if (fields_.size() == kMostFields) fields_.erase(fields_.begin());
    Field& field = fields_.emplace_back();
    field.node = node;
    field.first_i = lines.first_i;
    field.first_j = lines.first_j;
    field.wide = lines.last_i - lines.first_i + 1;
    field.high = lines.last_j - lines.first_j + 1;
    field.moved_m.resize(kPerColumn * field.wide * field.high, 3);
    for (int j = 0; j < field.high; ++j)  // a row of columns lies together in the mesh
        field.moved_m.middleRows(kPerColumn * field.wide * j, kPerColumn * field.wide) =
            moved_m
                .middleRows(kPerColumn * static_cast<int>(mesh_.chart.at(field.first_i, field.first_j + j)),
                            kPerColumn * field.wide)
                .cast<float>();
}

const TipDetailSolver::Field* TipDetailSolver::field_of(const TipNode& node) const {
    const auto found =
        std::find_if(fields_.begin(), fields_.end(), [&](const Field& field) { return field.node == node; });
    return found == fields_.end() ? nullptr : &*found;
}

std::shared_ptr<TipDetailSolver::Patch> TipDetailSolver::patch_of(int cell) {
    const auto known = std::find_if(patches_.begin(), patches_.end(), [&](const auto& p) { return p->cell == cell; });
    if (known != patches_.end()) {
        std::rotate(known, known + 1, patches_.end());
        return patches_.back();
    }
    const Chart& chart = mesh_.chart;
    const auto at = [](const std::vector<double>& lines, int k) {
        return 0.5 * (lines[static_cast<std::size_t>(k)] + lines[static_cast<std::size_t>(k) + 1]);
    };
    const PatchLines about =
        patch_lines(mesh_, {at(chart.s_m, cell % chart.wide), at(chart.t_m, cell / chart.wide), kCellsDeep});
    const PatchLines most = lines_about(chart, cell, kPatchLines, kPatchLines + 1);
    if (patches_.size() == kMostPatches) patches_.erase(patches_.begin());  // before the next takes its room
    patches_.push_back(
        std::make_shared<Patch>(mesh_, body_, cell,
                                PatchLines{std::max(about.first_i, most.first_i), std::max(about.first_j, most.first_j),
                                           std::min(about.last_i, most.last_i), std::min(about.last_j, most.last_j)}));
    return patches_.back();
}

/// Of every unknown of the mesh, three columns a node; nothing far from it.
Eigen::MatrixXd TipDetailSolver::mesh_field_m(const std::vector<TipNode>& nodes) {
    std::vector<TipNode> unknown;
    for (const TipNode& node : nodes)
        if (field_of(node) == nullptr) unknown.push_back(node);
    if (!unknown.empty()) static_cast<void>(blocks(unknown));
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(mesh_.cells.unknowns(), 3 * static_cast<Eigen::Index>(nodes.size()));
    for (std::size_t k = 0; k < nodes.size(); ++k) {
        const Field& field = *field_of(nodes[k]);
        for (int j = 0; j < field.high; ++j)
            out.block(kPerColumn * static_cast<int>(mesh_.chart.at(field.first_i, field.first_j + j)),
                      3 * static_cast<Eigen::Index>(k), kPerColumn * field.wide, 3) =
                field.moved_m.middleRows(kPerColumn * field.wide * j, kPerColumn * field.wide).cast<double>();
    }
    return out;
}

TipDetail TipDetailSolver::detail(const TipNode& cell) {
    SIM_ASSERT(cell.level > 0 && cell.level <= kCellsDeep);
    SIM_ASSERT(cell.column % mesh_.chart.wide + 1 < mesh_.chart.wide);
    SIM_ASSERT(cell.column >= 0 && cell.column / mesh_.chart.wide + 1 < mesh_.chart.high);
    const std::shared_ptr<Patch> held = patch_of(cell.column);
    TipPatch& patch = held->patch;
    const FinePart& part = patch.part();
    const Eigen::MatrixXd mesh_m = mesh_field_m(corners_of(mesh_.chart, cell)), shares = corner_shares();
    const Eigen::MatrixXd fine_m =
        patch.solve_from(unit_loads(part.mesh, 2 * (cell.column % mesh_.chart.wide - part.first_i),
                                    2 * (cell.column / mesh_.chart.wide - part.first_j), cell.level),
                         patch.coarse_here_m(mesh_m) * shares);
    TipDetail out;
    out.cell = cell;
    out.first_i = 2 * part.first_i;
    out.first_j = 2 * part.first_j;
    out.wide = part.mesh.chart.wide;
    out.high = part.mesh.chart.high;
    out.skin_m_per_n.resize(3 * part.mesh.columns(), 3 * TipDetail::kPlaces);
    for (int axis = 0; axis < 3; ++axis) {
        const Eigen::MatrixXd as_drawn = held->read_fine * skin_axis(part.mesh, fine_m, axis),
                              of_mesh = held->read_mesh * skin_axis(mesh_, mesh_m, axis);
        const Eigen::MatrixXd differs = as_drawn - of_mesh * shares;
        for (Eigen::Index node = 0; node < differs.rows(); ++node)
            out.skin_m_per_n.row(3 * node + axis) = differs.row(node).cast<float>();
    }
    return out;
}

std::size_t TipDetailSolver::bytes() const {
    std::size_t out = 0;
    for (const Field& field : fields_) out += static_cast<std::size_t>(field.moved_m.size()) * sizeof(float);
    for (const auto& held : patches_) out += held->patch.factor().bytes();
    return out;
}

TipDetails::TipDetails(const HexMesh& mesh, std::size_t most_bytes)
    : mesh_(mesh), grid_(mesh.chart), most_bytes_(most_bytes) {}

std::vector<TipNode> TipDetails::cells_of(const ChartPlace& tip) const {
    const Chart& chart = mesh_.chart;
    require_within("tip.s_m", tip.s_m, chart.s_m.front(), chart.s_m.back());
    require_within("tip.t_m", tip.t_m, chart.t_m.front(), chart.t_m.back());
    require_within("tip.level", tip.level, 0.0, kCellsDeep);
    const ChartCell cell = cell_of(chart, tip.s_m, tip.t_m);
    const auto column = static_cast<int>(chart.at(cell.i, cell.j));
    std::vector<TipNode> out;
    for (const int level : {static_cast<int>(std::floor(tip.level)), static_cast<int>(std::ceil(tip.level))})
        if (level > 0 && (out.empty() || out.back().level != level)) out.push_back({column, level});
    return out;
}

std::vector<TipNode> TipDetails::missing(std::span<const ChartPlace> way, std::size_t most) const {
    std::vector<TipNode> out;
    for (const ChartPlace& place : way)
        for (const TipNode& cell : cells_of(place)) {
            if (out.size() == most) return out;
            if (details_.contains(cell) || std::find(out.begin(), out.end(), cell) != out.end()) continue;
            out.push_back(cell);
        }
    return out;
}

void TipDetails::keep(TipDetail detail) {
    const TipNode cell = detail.cell;
    if (const auto before = details_.find(cell); before != details_.end()) {
        bytes_ -= before->second.detail.bytes();
        details_.erase(before);
    }
    bytes_ += detail.bytes();
    details_.emplace(cell, Kept{std::move(detail), ++now_});
    while (bytes_ > most_bytes_ && details_.size() > 1) {
        const auto oldest = std::min_element(details_.begin(), details_.end(), [](const auto& x, const auto& y) {
            return x.second.read < y.second.read;
        });
        bytes_ -= oldest->second.detail.bytes();
        details_.erase(oldest);
    }
}

bool TipDetails::add(const TipForce& force, Eigen::VectorXf& fine_m) {
    SIM_ASSERT(fine_m.size() == 3 * grid_.nodes());
    const std::vector<TipNode> cells = cells_of(force.place);
    if (!std::all_of(cells.begin(), cells.end(), [this](const TipNode& cell) { return details_.contains(cell); }))
        return false;
    ++now_;
    const ChartCell at = cell_of(mesh_.chart, force.place.s_m, force.place.t_m);
    const std::array<double, 3> along_s = shares_of_three(at.a), along_t = shares_of_three(at.b);
    for (const TipNode& cell : cells) {
        Kept& kept = details_.at(cell);
        kept.read = now_;
        const double of_level = 1.0 - std::abs(force.place.level - cell.level);
        Eigen::Matrix<float, 27, 1> at_places;
        for (std::size_t k = 0; k < TipDetail::kPlaces; ++k) {
            const Vec3 part_n = of_level * along_s[k % 3] * along_t[k / 3] * force.force_n;
            at_places.segment<3>(3 * static_cast<Eigen::Index>(k)) =
                Eigen::Vector3d(part_n.x, part_n.y, part_n.z).cast<float>();
        }
        const TipDetail& detail = kept.detail;
        const Eigen::VectorXf moved = detail.skin_m_per_n * at_places;
        for (int j = 0; j < detail.high; ++j)
            fine_m.segment(3 * ((detail.first_j + j) * grid_.wide + detail.first_i), 3 * detail.wide) +=
                moved.segment(3 * j * detail.wide, 3 * detail.wide);
    }
    return true;
}

FineGrid::Place FineGrid::place_of(const Chart& chart, double s_m, double t_m) const {
    const ChartCell cell = cell_of(chart, s_m, t_m);
    const double x = std::clamp(2.0 * (cell.i + cell.a), 0.0, wide - 1.0),
                 y = std::clamp(2.0 * (cell.j + cell.b), 0.0, high - 1.0);
    const int i = std::min(static_cast<int>(x), wide - 2), j = std::min(static_cast<int>(y), high - 2);
    return {j * wide + i, x - i, y - j};
}

Vec3 read_fine(const Chart& chart, const Eigen::VectorXf& fine_m, double s_m, double t_m) {
    const FineGrid grid(chart);
    const FineGrid::Place place = grid.place_of(chart, s_m, t_m);
    Vec3 sum{};
    for (int corner = 0; corner < 4; ++corner) {
        const int along = corner % 2, below = corner / 2;
        const double share =
            (along == 1 ? place.along : 1.0 - place.along) * (below == 1 ? place.below : 1.0 - place.below);
        const int at = 3 * (place.node + below * grid.wide + along);
        sum += share * Vec3(fine_m[at], fine_m[at + 1], fine_m[at + 2]);
    }
    return sum;
}

}  // namespace sim::fe
